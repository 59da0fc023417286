"""A real pose estimator's output, read by us; where it came from is in tests/data/README.md."""

import numpy as np
import pytest

from service.analysis.analyse import analyse
from service.analysis.pose.layouts import LAYOUTS
from service.analysis.pose.points import ANATOMICAL

USED = [joint for joint in LAYOUTS["landmarks_33"].joints if joint is not None]
SIDES = [("left", "right"), ("right", "left")]


@pytest.fixture(scope="module")
def of(walking):
    """The path of one point by name, y up, pixels."""
    return lambda name: walking.points[:, ANATOMICAL.index(name)] * [1.0, -1.0]


@pytest.fixture(scope="module")
def sureness(walking):
    """Confidence of one point by name."""
    return lambda name: walking.confidence[:, ANATOMICAL.index(name)]


def _correlation(a, b):
    return np.corrcoef(a, b)[0, 1]


def test_every_point_of_the_layout_arrives_and_no_other(walking):
    seen = np.isfinite(walking.points).all(axis=(0, 2))
    assert {name for name, there in zip(ANATOMICAL, seen, strict=True) if there} == set(USED)
    assert np.isnan(walking.points[:, ~seen]).all()
    assert (walking.confidence[:, ~seen] == 0).all()


@pytest.mark.parametrize("side", ["left", "right"])
def test_the_body_stands_upright_in_every_frame(of, side):
    joints = ("ear", "shoulder", "hip", "knee", "ankle")
    heights = np.stack([of(f"{side}_{joint}")[:, 1] for joint in joints], axis=1)
    assert (np.diff(heights, axis=1) < 0).all()


@pytest.mark.parametrize("side", ["left", "right"])
def test_heel_and_toe_are_not_exchanged(of, side):
    forward = np.sign(np.diff(of("nose")[[0, -1], 0]))
    ahead = forward * (of(f"{side}_toe") - of(f"{side}_heel"))[:, 0]
    assert np.mean(ahead > 0) > 0.95


@pytest.mark.parametrize(("side", "other"), SIDES)
def test_each_arm_swings_with_the_leg_of_the_other_side(of, side, other):
    arm = (of(f"{side}_wrist") - of(f"{side}_shoulder"))[:, 0]
    assert _correlation(arm, (of(f"{other}_ankle") - of(f"{other}_hip"))[:, 0]) > 0.8
    assert _correlation(arm, (of(f"{side}_ankle") - of(f"{side}_hip"))[:, 0]) < -0.8


@pytest.mark.parametrize(
    ("proximal", "distal"),
    [("shoulder", "elbow"), ("elbow", "wrist"), ("hip", "knee"), ("knee", "ankle")],
)
def test_left_and_right_limbs_are_about_as_long(of, proximal, distal):
    left, right = (
        np.median(np.linalg.norm(of(f"{side}_{proximal}") - of(f"{side}_{distal}"), axis=-1))
        for side in ("left", "right")
    )
    assert left == pytest.approx(right, rel=0.2)


@pytest.mark.parametrize("joint", ["elbow", "wrist", "hand", "knee"])
def test_the_side_towards_the_camera_is_seen_more_surely(of, sureness, joint):
    walks_to_the_left_of_the_picture = np.diff(of("nose")[[0, -1], 0]).item() < 0
    assert walks_to_the_left_of_the_picture
    assert sureness(f"left_{joint}").mean() > sureness(f"right_{joint}").mean()


def test_confidence_is_the_estimators_own_and_varies_with_what_it_sees(sureness):
    far_arm = sureness("right_wrist")
    assert far_arm.min() < 0.3
    assert far_arm.max() > 0.9
    assert np.std(far_arm) > 0.1
    assert all(((sureness(name) >= 0) & (sureness(name) <= 1)).all() for name in USED)


@pytest.mark.parametrize("name", ["nose", "left_shoulder", "left_hip", "left_knee", "left_ankle"])
def test_points_jitter_from_frame_to_frame_as_noise_does(of, name):
    # The second difference of a smooth curve keeps its sign from frame to frame; that of
    # independent noise turns it, with a correlation of -2/3 between neighbours.
    bends = np.diff(of(name), n=2, axis=0)
    assert (np.median(np.abs(bends), axis=0) > 0.5).all()
    assert all(_correlation(bends[1:, axis], bends[:-1, axis]) < -0.2 for axis in (0, 1))


def test_a_walk_is_not_taken_for_a_swing(walking):
    analysis = analyse(walking)
    assert not analysis.swing_found
    assert analysis.reason is not None
    assert analysis.reason.text
    assert analysis.positions == ()
    assert analysis.findings == ()
