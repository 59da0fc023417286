"""What pose libraries hand out is read as it comes: zero reshaping.

The shapes follow the documentation that each format's module names; the same simulated swing is
written in every one of them and must get the answer that it gets as plain points.
"""

from __future__ import annotations

import json

import numpy as np
import pytest

from service.analysis.pose.layouts import LAYOUTS
from service.analysis.pose.points import ANATOMICAL
from service.analysis.types import View
from service.intake.errors import InvalidRequest
from service.intake.formats import FORMATS
from service.intake.recording import Limits, to_recording
from service.intake.request import read_request
from tests.swings import random_clip

LIMITS = Limits(12, 5000)
WIDTH, HEIGHT = 1080.0, 1920.0
_, CLIP = random_clip(4, View.FACE_ON, fps=30.0)
PLACES = {name: k for k, name in enumerate(ANATOMICAL)}


def columns(joints) -> np.ndarray:
    """x, y and confidence of the clip by column, shape (n_frames, n_columns, 3)."""
    both = np.concatenate([CLIP.points, CLIP.confidence[..., None]], axis=-1)
    unseen = np.full((len(both), 1, 3), np.nan)
    cells = [unseen if j is None else both[:, [PLACES[j]]] for j in joints]
    return np.concatenate(cells, axis=1)


def plain(joints) -> list:
    return [
        [None if np.isnan(p[0]) else [float(v) for v in p] for p in frame]
        for frame in columns(joints)
    ]


COCO = LAYOUTS["coco_17"].joints
LANDMARKS = LAYOUTS["landmarks_33"].joints
BODY_25 = LAYOUTS["body_25"].joints


def scaled(frames: list) -> list:
    return [[p and [p[0] / WIDTH, p[1] / HEIGHT, p[2]] for p in frame] for frame in frames]


def landmark_objects(frames: list) -> list:
    keys = ("x", "y", "visibility")
    return [
        [dict(zip(keys, p or [0.5, 0.5, 0.0], strict=True)) | {"z": -0.1} for p in frame]
        for frame in scaled(frames)
    ]


def flat(frame: list) -> list[float]:
    return [v for p in frame for v in (p or [0.0, 0.0, 0.0])]


def openpose(frames: list) -> list:
    return [
        {"version": 1.3, "people": [{"person_id": [-1], "pose_keypoints_2d": flat(f)}]}
        for f in frames
    ]


def coco(frames: list) -> dict:
    return {
        "images": [{"id": k, "file_name": f"{k:06d}.jpg"} for k in range(len(frames))],
        "annotations": [
            {"id": k, "image_id": k, "category_id": 1, "keypoints": flat(f)}
            for k, f in reversed(list(enumerate(frames)))
        ],
    }


def arrays(*people: list) -> list:
    together = zip(*people, strict=True)
    return [[[p or [0.0, 0.0, 0.0] for p in f] for f in frame] for frame in together]


def yolo_summary(frames: list) -> list:
    return [
        [
            {
                "name": "person",
                "class": 0,
                "confidence": 0.9,
                "box": {"x1": 0, "y1": 0, "x2": 9, "y2": 9},
                "keypoints": {
                    "x": [p[0] if p else 0.0 for p in f],
                    "y": [p[1] if p else 0.0 for p in f],
                    "visible": [p[2] if p else 0.0 for p in f],
                },
            }
        ]
        for f in frames
    ]


def named(frames: list) -> list:
    return [
        {
            joint: {"x": p[0], "y": 1.0 - p[1], "confidence": p[2]}
            for joint, p in zip(COCO, frame, strict=True)
            if p
        }
        for frame in scaled(frames)
    ]


def turned_score(frames: list) -> list:
    return [
        [[[[p[1], p[0], p[2]] if p else [0.0, 0.0, 0.0] for p in frame]]]
        for frame in scaled(frames)
    ]


CASES = {
    "landmarks_33_objects": (LANDMARKS, landmark_objects, True),
    "openpose_json": (BODY_25, openpose, False),
    "coco_annotations": (COCO, coco, False),
    "yolo_pose": (COCO, arrays, False),
    "named_joints_y_up": (COCO, named, True),
    "y_x_score_17": (COCO, turned_score, True),
}


def read(keypoints, **fields):
    body = {"keypoints": keypoints, "fps": 30.0, **fields}
    return to_recording(read_request(json.dumps(body).encode()), LIMITS)


def test_every_format_has_a_case():
    assert set(CASES) == set(FORMATS)


@pytest.mark.parametrize("declared", [True, False], ids=["declared", "detected"])
@pytest.mark.parametrize("name", CASES)
def test_a_format_as_it_comes_gives_the_recording_of_the_plain_points(name, declared):
    if not declared and not FORMATS[name].detectable:
        pytest.skip("in shape it is like any list of points, so that it must be declared")
    joints, write, normalised = CASES[name]
    size = {"image_size": {"width": WIDTH, "height": HEIGHT}} if normalised else {}
    told = {"format": name} if declared else {}
    got = read(write(plain(joints)), **told, **size)
    wanted = read(plain(joints), layout=[*joints])
    seen = ~np.isnan(wanted.points[..., 0])
    np.testing.assert_allclose(got.points[seen], wanted.points[seen], atol=1e-6)
    assert (got.confidence[~seen] == 0.0).all()
    np.testing.assert_allclose(got.confidence[seen], wanted.confidence[seen], atol=1e-9)
    assert got.remarks[0].code == "format_read"
    assert FORMATS[name].title in got.remarks[0].text


def test_the_json_summary_of_a_detector_is_read_too():
    got = read(yolo_summary(plain(COCO)))
    np.testing.assert_allclose(got.points, read(plain(COCO), layout="coco_17").points)


@pytest.mark.parametrize(
    ("format_name", "half"),
    [
        ("named_joints_y_up", lambda x, y: {"x": x, "y": y, "confidence": 0.9}),
        ("named_joints_y_up", lambda x, y: [x, y]),
        ("y_x_score_17", lambda x, y: [y, x, 0.9]),
    ],
)
def test_a_point_of_which_one_coordinate_is_null_was_not_found(format_name, half):
    frames = CASES[format_name][1](plain(COCO))
    for k, (x, y) in enumerate([(None, 0.4), (0.4, None)]):
        people = frames[k] if isinstance(frames[k], dict) else frames[k][0][0]
        people["nose" if isinstance(people, dict) else COCO.index("nose")] = half(x, y)
    found = read(frames, format=format_name, image_size={"width": WIDTH, "height": HEIGHT})
    assert np.isnan(found.points[:2, PLACES["nose"]]).all()
    assert np.isfinite(found.points[2, PLACES["nose"]]).all()


def test_a_point_at_nought_was_not_found_however_sure_it_claims_to_be():
    told = arrays(plain(COCO))
    told[4][0][COCO.index("left_knee")] = [0.0, 0.0, 0.4]
    told[4][0][COCO.index("right_knee")] = [0.0, 5.0, 0.4]
    got = read(told, format="yolo_pose")
    assert np.isnan(got.points[4, PLACES["left_knee"]]).all()
    assert not np.isnan(got.points[4, PLACES["right_knee"]]).any()


def test_a_point_that_is_null_in_an_array_was_not_found():
    told = arrays(plain(COCO))
    told[4][0][COCO.index("left_knee")] = None
    assert np.isnan(read(told).points[4, PLACES["left_knee"]]).all()
    assert np.isfinite(read(told).points[4, PLACES["right_knee"]]).all()


def test_a_point_that_was_not_found_is_no_point_at_the_corner_of_the_picture():
    told = openpose(plain(BODY_25))
    told[4]["people"][0]["pose_keypoints_2d"][:3] = [0.0, 0.0, 0.0]
    assert np.isnan(read(told).points[4, PLACES["nose"]]).all()


RAW_NAMES = {
    **{"eye": "eye_joint", "ear": "ear_joint", "shoulder": "shoulder_1_joint"},
    **{"elbow": "forearm_joint", "wrist": "hand_joint", "hip": "upLeg_joint"},
    **{"knee": "leg_joint", "ankle": "foot_joint"},
}


def test_joints_are_known_by_the_names_that_the_framework_has_for_them():
    def raw(joint: str) -> str:
        side, _, part = joint.partition("_")
        return f"{side}_{RAW_NAMES[part]}" if part else "head_joint"

    size = {"image_size": {"width": WIDTH, "height": HEIGHT}}
    frames = named(plain(COCO))
    renamed = [{raw(joint): point for joint, point in frame.items()} for frame in frames]
    got, wanted = (read(sent, **size) for sent in (renamed, frames))
    np.testing.assert_array_equal(got.points, wanted.points)


def test_people_of_two_skeletons_in_one_film_are_refused():
    frames = openpose(plain(BODY_25))
    person = frames[7]["people"][0]
    person["pose_keypoints_2d"] = person["pose_keypoints_2d"][: 3 * 18]
    with pytest.raises(InvalidRequest, match="18 and 25 points"):
        read(frames, format="openpose_json")


def test_people_of_the_model_for_several_are_read_but_those_of_no_score():
    size = {"image_size": {"width": WIDTH, "height": HEIGHT}}
    one = turned_score(plain(COCO))
    several = [
        [[[*flat(frame[0][0]), 0.1, 0.1, 0.9, 0.9, score] for score in (0.8, 0.05)]]
        for frame in one
    ]
    got, wanted = (read(sent, format="y_x_score_17", **size) for sent in (several, one))
    np.testing.assert_array_equal(got.points, wanted.points)
    assert "several_people" not in {remark.code for remark in got.remarks}


@pytest.mark.parametrize("short", ["x", "y", "visible"])
def test_a_summary_whose_lists_are_not_of_one_length_is_refused(short):
    frames = yolo_summary(plain(COCO))
    frames[3][0]["keypoints"][short].pop()
    with pytest.raises(InvalidRequest) as refused:
        read(frames, format="yolo_pose")
    assert refused.value.errors[0].pointer == "/keypoints/3"


def test_labels_of_visibility_become_confidences():
    frames = plain(COCO)
    labelled = [[p and [p[0], p[1], 1 + (k % 2)] for k, p in enumerate(f)] for f in frames]
    got = read(coco(labelled))
    assert set(np.unique(got.confidence)) <= {0.0, 0.5, 1.0}
    assert got.confidence[:, PLACES["nose"]].max() == 0.5


def by_image(name, left_out=()) -> list:
    """Results of the clip, named by the number of their frame, in no order."""
    kept = [k for k in range(len(plain(COCO))) if k not in left_out]
    frames = plain(COCO)
    return [
        {"image_id": name(k), "category_id": 1, "keypoints": flat(frames[k]), "score": 2.9}
        for k in reversed(kept)
    ]


@pytest.mark.parametrize(
    "name", ["{}.jpg", "{}", "clip7_{}.png", "frame_{}_pose.png", "{:06d}.jpg"]
)
def test_images_are_in_the_order_of_the_numbers_in_their_names(name):
    found = read(by_image(lambda k: name.format(k + 95)))
    assert np.array_equal(found.points, read(by_image(int)).points, equal_nan=True)


@pytest.mark.parametrize("name", [int, lambda k: 1000 + 3 * k, "{}.jpg".format, "{}.jp2".format])
def test_a_frame_without_a_result_holds_nobody_and_takes_its_time(name):
    gap = range(40, 52)
    found = read(by_image(name, gap))
    whole = read(by_image(int))
    assert np.isnan(found.points[gap]).all()
    rest = [k for k in range(len(whole.points)) if k not in gap]
    assert np.array_equal(found.points[rest], whole.points[rest], equal_nan=True)
    assert np.array_equal(found.times, whole.times)


@pytest.mark.parametrize("images", [3, "000001.jpg", {"id": 1}, [3], None])
def test_images_that_are_no_list_of_objects_are_not_looked_at(images):
    found = read(coco(plain(COCO)) | {"images": images})
    assert np.array_equal(found.points, read(coco(plain(COCO))).points, equal_nan=True)


def test_times_of_the_frames_with_a_result_are_enough():
    gap = range(40, 52)
    times = [k / 30 for k in range(len(CLIP.points)) if k not in gap]
    found = read(by_image(int, gap), fps=None, timestamps=times)
    assert np.allclose(found.times, times)


@pytest.mark.parametrize("ids", [lambda k: 7919 * k * k, lambda k: f"{'ab'[k % 2]}{k // 2}"])
def test_ids_that_number_no_frames_leave_no_frames_between(ids):
    assert len(read(by_image(ids)).points) == len(CLIP.points)


@pytest.mark.parametrize("unit", [1.0, HEIGHT], ids=["fractions", "pixels"])
def test_joints_by_name_whose_y_grows_down_are_told_how_they_were_read(unit):
    frames = [
        {joint: [p[0] * unit, p[1] * unit] for joint, p in zip(COCO, frame, strict=True) if p}
        for frame in scaled(plain(COCO))
    ]
    with pytest.raises(InvalidRequest) as refused:
        read(frames, image_size={"width": WIDTH, "height": HEIGHT})
    (error,) = refused.value.errors
    assert "read with y growing upwards" in error.problem
    assert "as layout" in error.fix


@pytest.mark.parametrize("name", CASES)
def test_numbers_in_quotes_are_refused_rather_than_lost(name):
    joints, write, _ = CASES[name]
    quoted = json.loads(json.dumps(write(plain(joints))), parse_float=str)
    with pytest.raises(InvalidRequest, match="texts where numbers belong"):
        read(quoted, format=name, image_size={"width": WIDTH, "height": HEIGHT})


def test_a_confidence_in_quotes_is_not_taken_for_none():
    frames = landmark_objects(plain(LANDMARKS))
    for frame in frames:
        for landmark in frame:
            landmark["visibility"] = str(landmark["visibility"])
    with pytest.raises(InvalidRequest, match="texts where numbers belong"):
        read(frames, image_size={"width": WIDTH, "height": HEIGHT})


def test_world_landmarks_are_refused_with_a_hint():
    frames = [[{"x": 0.01 * k, "y": 0.02 * k, "z": 0.0} for k in range(33)] for _ in range(30)]
    for frame in frames:
        frame[23], frame[24] = ({"x": s, "y": 0.0, "z": 0.0} for s in (0.1, -0.1))
    for sent in (frames, [{"pose_world_landmarks": [f]} for f in frames]):
        with pytest.raises(InvalidRequest, match=r"world|hips") as refused:
            read(sent, format="landmarks_33_objects", image_size={"width": 10, "height": 10})
        assert "pose_landmarks" in refused.value.errors[0].fix


def test_a_player_whose_hips_are_at_the_edge_of_the_picture_is_read():
    frames = landmark_objects(plain(LANDMARKS))
    for frame in frames:
        frame[23]["x"] = frame[24]["x"] = 0.0
    got = read(frames, image_size={"width": WIDTH, "height": HEIGHT})
    assert np.isfinite(got.points[:, PLACES["left_shoulder"]]).any()


def test_fractions_need_the_image_size():
    with pytest.raises(InvalidRequest) as refused:
        read(landmark_objects(plain(LANDMARKS)))
    assert refused.value.errors[0].pointer == "/image_size"


def test_points_that_are_objects_are_complained_of_once():
    strange = [[{"px": 1.0, "py": 2.0}] * 17] * 40
    with pytest.raises(InvalidRequest) as refused:
        read(strange, layout="coco_17")
    (error,) = refused.value.errors
    assert "680 points" in error.problem
    assert "format" in error.fix


@pytest.mark.parametrize(
    ("layout", "other"), [("landmarks_33", False), ("coco_17", True), (3, True)]
)
def test_a_layout_that_is_not_the_formats_own_is_said_not_to_be_looked_at(
    layout: object, other: bool
):
    size = {"width": WIDTH, "height": HEIGHT}
    recording = read(landmark_objects(plain(LANDMARKS)), layout=layout, image_size=size)
    told = next(r.text for r in recording.remarks if r.code == "format_read")
    assert told.endswith("not looked at.") is other


def test_the_player_is_followed_among_several_people():
    frames = plain(COCO)
    small = [[p and [0.3 * p[0] + 900.0, 0.3 * p[1] + 700.0, p[2]] for p in f] for f in frames]
    mixed = arrays(small, frames)
    mixed[1::3] = [pair[::-1] for pair in mixed[1::3]]
    mixed[5], mixed[6] = mixed[5][:1], []
    got = read(mixed)
    alone = read(frames, layout="coco_17")
    rest = [k for k in range(len(frames)) if k not in (5, 6)]
    np.testing.assert_allclose(got.points[rest], alone.points[rest])
    assert np.isnan(got.points[[5, 6]]).all()
    assert [r.code for r in got.remarks] == ["format_read", "several_people"]
    assert "2 people" in got.remarks[1].text


def test_nobody_in_any_frame_is_refused():
    with pytest.raises(InvalidRequest, match="nobody"):
        read([{"people": []}] * 30, format="openpose_json")


@pytest.mark.parametrize("name", CASES)
def test_what_a_format_can_not_read_is_refused_with_its_shape(name):
    size = {"image_size": {"width": 10, "height": 10}}
    for sent in (5, {"a": 1}, [[1, 2, 3]] * 30, [{"x": 1}] * 30, ["p"] * 30):
        with pytest.raises(InvalidRequest) as refused:
            read(sent, format=name, **size)
        assert all(e.fix and e.problem for e in refused.value.errors)


@pytest.mark.parametrize("name", ["landmarks_33_objects", "yolo_pose"])
def test_a_long_body_in_a_format_is_read_as_a_short_one(name):
    joints, write, normalised = CASES[name]
    size = {"image_size": {"width": WIDTH, "height": HEIGHT}} if normalised else {}
    frames = write(plain(joints))
    times = 1 + 1_300_000 // len(json.dumps(frames))
    long = read(frames * times, format=name, **size)
    short = read(frames, format=name, **size)
    np.testing.assert_array_equal(long.points, np.concatenate([short.points] * times))
