import numpy as np
import pytest

from service.analysis.pose.layouts import (
    ALIASES,
    LAYOUTS,
    DuplicateJoint,
    LayoutError,
    UnknownJoint,
    UnknownLayout,
    resolve,
    to_points,
)
from service.analysis.pose.points import ANATOMICAL, N_POINTS

SIZES = {
    "coco_17": 17,
    "landmarks_33": 33,
    "halpe_26": 26,
    "coco_wholebody_133": 133,
    "body_25": 25,
}
LANDMARKS_PUBLISHED = {
    0: "nose",
    2: "left_eye",
    5: "right_eye",
    7: "left_ear",
    8: "right_ear",
    11: "left_shoulder",
    12: "right_shoulder",
    15: "left_wrist",
    19: "left_hand",
    20: "right_hand",
    23: "left_hip",
    28: "right_ankle",
    29: "left_heel",
    32: "right_toe",
}
HALPE_PUBLISHED = {
    17: "head_top",
    18: "neck",
    19: "mid_hip",
    20: "left_toe",
    21: "right_toe",
    22: "left_small_toe",
    25: "right_heel",
}
WHOLEBODY_PUBLISHED = {
    16: "right_ankle",
    17: "left_toe",
    18: "left_small_toe",
    19: "left_heel",
    22: "right_heel",
    96: "left_hand",
    117: "right_hand",
}
BODY_25_PUBLISHED = {
    1: "neck",
    2: "right_shoulder",
    7: "left_wrist",
    8: "mid_hip",
    9: "right_hip",
    14: "left_ankle",
    15: "right_eye",
    18: "left_ear",
    19: "left_toe",
    22: "right_toe",
    24: "right_heel",
}


def test_every_layout_has_its_published_number_of_points():
    assert {name: len(layout.joints) for name, layout in LAYOUTS.items()} == SIZES


@pytest.mark.parametrize("name", SIZES)
def test_a_layout_names_known_points_each_once(name):
    used = [joint for joint in LAYOUTS[name].joints if joint is not None]
    assert set(used) <= set(ANATOMICAL)
    assert len(used) == len(set(used))


@pytest.mark.parametrize("name", SIZES)
def test_a_layout_has_a_right_point_for_every_left_one(name):
    joints = {joint for joint in LAYOUTS[name].joints if joint is not None}
    left = {joint.removeprefix("left_") for joint in joints if joint.startswith("left_")}
    right = {joint.removeprefix("right_") for joint in joints if joint.startswith("right_")}
    assert left == right


@pytest.mark.parametrize(
    ("name", "published"),
    [
        ("coco_17", {0: "nose", 1: "left_eye", 6: "right_shoulder", 16: "right_ankle"}),
        ("landmarks_33", LANDMARKS_PUBLISHED),
        ("halpe_26", HALPE_PUBLISHED),
        ("coco_wholebody_133", WHOLEBODY_PUBLISHED),
        ("body_25", BODY_25_PUBLISHED),
    ],
)
def test_a_layout_keeps_the_published_index_order(name, published):
    joints = resolve(name)
    assert {index: joints[index] for index in published} == published


def test_the_face_and_the_fingers_but_one_knuckle_are_not_used():
    joints = resolve("coco_wholebody_133")
    assert {joint for joint in joints[23:91] if joint} == set()
    assert [joint for joint in joints[91:] if joint] == ["left_hand", "right_hand"]


@pytest.mark.parametrize("spelling", ["coco_17", "COCO-17", "coco 17", "Coco17"])
def test_a_layout_name_may_be_spelt_freely(spelling):
    assert resolve(spelling) == LAYOUTS["coco_17"].joints


@pytest.mark.parametrize(
    ("spelling", "name"),
    [
        ("left_shoulder", "left_shoulder"),
        ("l_shoulder", "left_shoulder"),
        ("LShoulder", "left_shoulder"),
        ("leftShoulder", "left_shoulder"),
        ("Left Shoulder", "left_shoulder"),
        ("shoulder-left", "left_shoulder"),
        ("REar", "right_ear"),
        ("left_foot_index", "left_toe"),
        ("LBigToe", "left_toe"),
        ("RSmallToe", "right_small_toe"),
        ("right_index", "right_hand"),
        ("pelvis", "mid_hip"),
        ("MidHip", "mid_hip"),
        ("belly", "mid_trunk"),
        ("face", "head"),
        ("butt", "grip_end"),
        ("hands", "grip"),
        ("ClubHead", "clubhead"),
    ],
)
def test_other_spellings_find_their_point(spelling, name):
    assert resolve([spelling]) == (name,)


@pytest.mark.parametrize("name", ["chest", "thorax", "spine", "foot", "club", "shoulder"])
def test_a_name_that_is_not_truly_one_of_our_points_is_refused(name):
    with pytest.raises(UnknownJoint):
        resolve([name])


def test_no_two_aliases_differ_only_in_what_is_ignored():
    keys = [name.replace("_", "") for name in (*ALIASES, *ANATOMICAL)]
    assert len(keys) == len(set(keys))


def test_a_list_may_skip_columns():
    assert resolve(["nose", None, "LWrist"]) == ("nose", None, "left_wrist")


def test_an_unknown_layout_is_answered_with_the_nearest():
    with pytest.raises(UnknownLayout, match=r"'Halpe-62'; did you mean halpe_26\?") as caught:
        resolve("Halpe-62")
    assert caught.value.index is None


def test_a_layout_like_no_other_is_answered_with_all_there_are():
    with pytest.raises(UnknownLayout) as caught:
        resolve("pose.bin")
    assert all(name in str(caught.value) for name in LAYOUTS)


def test_an_unknown_joint_is_answered_with_its_column_and_the_nearest_name():
    with pytest.raises(UnknownJoint) as caught:
        resolve(["nose", "left_sholder"])
    assert caught.value.index == 1
    assert "'left_sholder'" in str(caught.value)
    assert "did you mean left_shoulder?" in str(caught.value)


def test_a_name_like_no_other_gets_no_guess():
    with pytest.raises(UnknownJoint) as caught:
        resolve(["qqqq"])
    assert "did you mean" not in str(caught.value)


def test_an_empty_name_is_told_to_be_null():
    with pytest.raises(UnknownJoint, match="send null for a column to ignore"):
        resolve(["nose", ""])


def test_the_same_point_twice_is_refused_even_under_two_spellings():
    with pytest.raises(DuplicateJoint, match="columns 0 and 2 both name 'left_toe'") as caught:
        resolve(["LBigToe", "nose", "left_toe"])
    assert caught.value.index == 2


@pytest.mark.parametrize("names", [[], [None, None]])
def test_a_list_that_names_nothing_is_refused(names):
    with pytest.raises(LayoutError, match="names no point"):
        resolve(names)


def test_columns_are_sorted_into_place_and_the_rest_is_missing():
    values = np.array([[[1.0, 2.0], [3.0, 4.0], [5.0, 6.0]]])
    points, confidence = to_points(
        values, np.array([[0.9, 0.8, 0.7]]), ("right_knee", None, "nose")
    )
    knee, nose = ANATOMICAL.index("right_knee"), ANATOMICAL.index("nose")
    assert points.shape == (1, N_POINTS, 2)
    assert points[0, knee].tolist() == [1.0, 2.0]
    assert points[0, nose].tolist() == [5.0, 6.0]
    assert (confidence[0, knee], confidence[0, nose]) == (0.9, 0.7)
    others = [index for index in range(N_POINTS) if index not in (knee, nose)]
    assert np.isnan(points[0, others]).all()
    assert (confidence[0, others] == 0).all()


@pytest.mark.parametrize("x", [np.nan, np.inf, -np.inf])
def test_a_point_with_a_coordinate_that_is_no_number_is_missing(x):
    points, confidence = to_points(np.array([[[x, 4.0]]]), np.array([[0.9]]), ("nose",))
    assert np.isnan(points[0, 0]).all()
    assert confidence[0, 0] == 0


def test_three_zeros_mean_that_the_point_was_not_found():
    points, confidence = to_points(np.zeros((1, 1, 2)), np.zeros((1, 1)), ("nose",))
    assert np.isnan(points[0, 0]).all()
    assert confidence[0, 0] == 0


def test_a_point_at_the_origin_that_was_seen_is_kept():
    points, confidence = to_points(np.zeros((1, 1, 2)), np.full((1, 1), 0.5), ("nose",))
    assert points[0, 0].tolist() == [0.0, 0.0]
    assert confidence[0, 0] == 0.5


def test_frames_with_another_number_of_columns_are_refused():
    with pytest.raises(LayoutError, match="has 17 points, the frames have 33"):
        to_points(np.zeros((1, 33, 2)), np.ones((1, 33)), resolve("coco_17"))


def test_the_arrays_received_are_left_alone():
    values, confidence = np.full((1, 1, 2), np.inf), np.ones((1, 1))
    to_points(values, confidence, ("nose",))
    assert np.isinf(values).all()
    assert (confidence == 1).all()
