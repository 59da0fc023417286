"""Motion capture played again is a swing of known truth."""

import numpy as np
import pytest

from service.analysis.pose.points import Point
from service.analysis.types import Handedness, View
from tests.reference.clips import FOLDER
from tests.reference.motion_capture.captured import captured, without_jitter
from tests.reference.motion_capture.faults import PUTS
from tests.reference.motion_capture.replayed import Body, Replayed
from training.data.truth import true_measures

pytestmark = [
    pytest.mark.reference,
    pytest.mark.skipif(
        not (FOLDER / "golf_motions_3d.ndjson").is_file(),
        reason="the captured swings are data outside the project; set SWING_REFERENCE_DIR to the "
        "folder that holds them",
    ),
]

# What a fault put on by geometry raises, from which side.
RAISES = {
    "heel": (View.FACE_ON, "trail_heel_height"),
    "knee": (View.DOWN_THE_LINE, "trail_knee_travel"),
    "handle": (View.FACE_ON, "hand_height_at_impact"),
    "drift": (View.FACE_ON, "upper_body_drift"),
    "elbows": (View.FACE_ON, "elbow_gap_growth"),
    "trail shoulder": (View.FACE_ON, "shoulder_tilt"),
    "arms": (View.FACE_ON, "lead_arm_elevation_gained"),
    "trunk": (View.DOWN_THE_LINE, "forward_bend_lost"),
    "pelvis": (View.DOWN_THE_LINE, "pelvis_travel_to_ball"),
    "slide": (View.FACE_ON, "pelvis_travel_to_target"),
}


def replay(number: int, **faults: float) -> Replayed:
    hand, body = Handedness.RIGHT, Body(1.0, 1.0, 1.0)
    return Replayed(captured()[number], body, hand, (0.6, 1.4, 1.66, 2.3), 2.8, faults)


def test_every_fault_put_on_has_a_measure_to_be_tested():
    assert set(RAISES) == {put.name for put in PUTS}


@pytest.mark.parametrize("number", [0, 1])
def test_its_positions_come_in_order(number):
    assert np.all(np.diff(replay(number).position_times) > 0.0)


@pytest.mark.parametrize("number", [0, 1])
@pytest.mark.parametrize("fault", RAISES)
def test_more_of_a_fault_shows_more_of_it_in_space(fault, number):
    view, measure = RAISES[fault]
    if fault == "heel" and Point.TRAIL_HEEL not in captured()[number].seen:
        pytest.skip("this capture has no heel")
    taken = [
        true_measures(replay(number, **{fault: metres}), view).values[measure]
        for metres in (0.0, 0.1, 0.2)
    ]
    assert np.all(np.diff([t.value for t in taken]) > 0.0)


def test_what_shakes_is_taken_off_and_what_a_body_does_is_left():
    clock = np.arange(161) / 200.0
    slow = 0.1 * np.sin(2.0 * np.pi * 3.0 * clock)[:, None] * np.ones(3)
    shaking = 0.01 * np.sin(2.0 * np.pi * 60.0 * clock)[:, None] * np.ones(3)
    clean = without_jitter(slow + shaking, 200.0, 12.0, (40, 120))
    inside = slice(50, 111)
    np.testing.assert_allclose(clean[inside], slow[inside], atol=1e-3)
    np.testing.assert_array_equal(clean[:41], (slow + shaking)[:41])


def test_another_body_keeps_its_limbs_lengths_in_proportion():
    motion = Replayed(
        captured()[0], Body(0.9, 1.05, 0.95), Handedness.RIGHT, (0.6, 1.4, 1.66, 2.3), 2.8
    )
    plain = replay(0)

    def shank(swing):
        joints = swing.canonical_joints(np.array([1.0]))[0]
        return np.linalg.norm(joints[Point.LEAD_KNEE] - joints[Point.LEAD_ANKLE])

    assert shank(motion) == pytest.approx(0.9 * 1.05 * shank(plain), rel=0.02)
