"""Measures on poses posed by hand, where the answer is known in closed form."""

import numpy as np
import pytest

from service.analysis.events.normalized import grid_index
from service.analysis.faults import CATALOGUE, MEASURES
from service.analysis.faults.arms_lift_at_top import ELEVATION_GAINED, PATH_STEEPNESS
from service.analysis.faults.elbows_separate import ELBOW_GAP
from service.analysis.faults.handle_rise import HAND_HEIGHT
from service.analysis.faults.hips_past_lead_foot import BEHIND_ANKLE, TRAVEL
from service.analysis.faults.hips_toward_ball import PELVIS_TRAVEL
from service.analysis.faults.lead_wrist_cup import CLUBHEAD_AHEAD
from service.analysis.faults.long_backswing import ARM_SWING
from service.analysis.faults.shaft_steep_at_top import SHAFT_OFFSET
from service.analysis.faults.trail_heel_kick import HEEL_HEIGHT, HEEL_OUTWARD
from service.analysis.faults.trail_knee_drive import KNEE_TRAVEL
from service.analysis.faults.trail_shoulder_drop import SHOULDER_TILT
from service.analysis.faults.trunk_straightens import FORWARD_BEND_LOST
from service.analysis.faults.upper_body_drift import UPPER_BODY_DRIFT
from service.analysis.faults.wrists_open_early import HINGE, OPENED
from service.analysis.measures import body_lines as measures
from service.analysis.measures.definition import MeasuredValue
from service.analysis.measures.general import TEMPO_RATIO
from service.analysis.measures.taking import take
from service.analysis.types import FloatArray, Reason, View
from tests.analysis.measures.posing import ALL_FOUND, everywhere, moving, posed


def value(measure, swing):
    taken = take(measure, swing, ALL_FOUND)
    assert isinstance(taken, MeasuredValue), taken
    besides = np.hypot(measure.left_out, measure.blunted * max(taken.value, 0.0))
    assert taken.uncertainty == pytest.approx(besides, abs=1e-12)
    return taken.value


def test_tempo_is_the_time_up_over_the_time_down():
    swing = posed(times=lambda grid: np.interp(grid, [1, 4, 7, 10], [0.0, 0.9, 1.2, 2.0]))
    assert value(TEMPO_RATIO, swing) == pytest.approx(3.0)


@pytest.mark.parametrize(("end", "degrees"), [((0.0, 0.2), 90.0), ((-0.2, 0.2), 45.0)])
def test_hands_that_go_straight_up_have_a_path_of_90_degrees(end, degrees):
    path = moving((0.0, 0.0), end, 3.0, 4.0)
    swing = posed(View.DOWN_THE_LINE, lead_wrist=path, trail_wrist=path)
    assert value(PATH_STEEPNESS, swing) == pytest.approx(degrees)


@pytest.mark.parametrize("at_p3", [-8.0, 0.0, 8.0])
def test_the_arm_has_risen_from_level_wherever_p3_was_placed(at_p3):
    def wrist(grid):
        turn = np.radians(np.interp(grid, [2.0, 3.0, 4.0], [-60.0, at_p3, 30.0]))
        return 0.3 * np.stack([-np.cos(turn), np.sin(turn)], axis=1) + [0.0, 0.8]

    swing = posed(lead_shoulder=(0.0, 0.8), lead_wrist=wrist)
    assert value(ELEVATION_GAINED, swing) == pytest.approx(30.0)


@pytest.mark.parametrize(
    ("head", "offset"), [((-0.4, 1.0), 0.0), ((-0.4, 1.1), 0.1387), ((-0.4, 0.9), -0.1581)]
)
def test_the_shaft_line_is_told_by_its_distance_from_the_trail_shoulder(head, offset):
    swing = posed(
        View.DOWN_THE_LINE,
        trail_shoulder=(0.0, 0.8),
        trail_elbow=(0.0, 0.6),
        lead_wrist=(0.2, 0.7),
        grip=(0.2, 0.7),
        clubhead=head,
    )
    assert value(SHAFT_OFFSET, swing) == pytest.approx(offset, abs=1e-4)


@pytest.mark.parametrize(("view", "out"), [(View.DOWN_THE_LINE, 1.0), (View.FACE_ON, -1.0)])
def test_the_heel_goes_out_toward_the_ball_or_away_from_the_target(view, out):
    swing = posed(view, trail_heel=moving((0.1, 0.0), (0.1 + out * 0.03, 0.05), 5.0, 7.0))
    assert value(HEEL_HEIGHT, swing) == pytest.approx(5.0)
    assert value(HEEL_OUTWARD, swing) == pytest.approx(3.0)


def test_the_elbow_gap_is_told_against_address():
    swing = posed(lead_elbow=moving((0.1, 0.6), (0.15, 0.6), 7.0, 8.0), trail_elbow=(-0.1, 0.6))
    assert value(ELBOW_GAP, swing) == pytest.approx(5.0)


@pytest.mark.parametrize("degrees", [0.0, 30.0, 70.0])
def test_a_clubhead_ahead_of_the_lead_arm_turns_the_shaft_past_its_line(degrees):
    turn = np.radians(degrees - 90.0)
    swing = posed(
        lead_shoulder=(0.0, 0.4),
        lead_wrist=(0.0, 0.1),
        grip=(0.0, 0.1),
        clubhead=(0.5 * np.cos(turn), 0.1 + 0.5 * np.sin(turn)),
    )
    assert value(CLUBHEAD_AHEAD, swing) == pytest.approx(degrees)


@pytest.mark.parametrize("degrees", [0.0, 20.0, 40.0])
def test_a_turned_and_tilted_shoulder_line_gives_back_its_tilt_and_its_turn(degrees):
    width, turn = 0.2, np.radians(50.0)
    tilt = np.radians(degrees)
    middle = np.array([0.0, 0.8])
    half = 0.5 * width * np.array([np.cos(tilt) * np.cos(turn), np.sin(tilt)])
    swing = posed(
        lead_shoulder=moving((0.1, 0.8), middle + half, 1.0, 6.0),
        trail_shoulder=moving((-0.1, 0.8), middle - half, 1.0, 6.0),
    )
    assert value(SHOULDER_TILT, swing) == pytest.approx(degrees)
    assert measures.chest_turn(swing)[0, grid_index(7.0)] == pytest.approx(50.0)


def test_shoulders_seen_too_narrow_at_address_tilt_no_more_than_the_line_between_them():
    middle = np.array([0.0, 0.8])
    half = 0.1 * np.array([np.cos(np.radians(30.0)), np.sin(np.radians(30.0))])
    swing = posed(
        lead_shoulder=moving((0.03, 0.8), middle + half, 1.0, 6.0),
        trail_shoulder=moving((-0.03, 0.8), middle - half, 1.0, 6.0),
    )
    assert value(SHOULDER_TILT, swing) == pytest.approx(30.0)


@pytest.mark.parametrize("degrees", [60.0, 90.0, 110.0])
def test_a_chest_that_turns_past_square_to_the_camera_goes_on_turning(degrees):
    half = 0.1 * np.cos(np.radians(degrees))
    swing = posed(
        lead_shoulder=moving((0.1, 0.8), (half, 0.8), 1.0, 4.0),
        trail_shoulder=moving((-0.1, 0.8), (-half, 0.8), 1.0, 4.0),
    )
    assert measures.chest_turn(swing)[0, grid_index(4.0)] == pytest.approx(degrees)


def test_hands_higher_at_impact_than_at_address_measure_the_rise():
    path = moving((0.0, 0.4), (0.02, 0.44), 5.0, 7.0)
    swing = posed(lead_wrist=path, trail_wrist=path, lead_ankle=(0.1, 0.0))
    assert value(HAND_HEIGHT, swing) == pytest.approx(4.0)


@pytest.mark.parametrize("rise", [0.0, 2.0, 8.0])
def test_the_higher_a_heel_comes_the_less_sure_is_its_height(rise):
    path = moving((0.0, 0.0), (0.0, 0.01 * rise), 5.0, 7.0)
    taken = take(HEEL_HEIGHT, posed(trail_heel=path), ALL_FOUND)
    assert isinstance(taken, MeasuredValue)
    assert taken.uncertainty == pytest.approx(HEEL_HEIGHT.blunted * rise)


@pytest.mark.parametrize("lost", ["lead_wrist", "trail_wrist"])
def test_hands_of_which_one_is_lost_at_impact_have_a_height_as_unsure_as_they_are_apart(lost):
    path, away = moving((0.0, 0.4), (0.02, 0.44), 5.0, 7.0), (0.02, 0.54)
    noise = 0.005 * np.array([0.0, 1.0, -1.0, 1.0, -1.0, -1.0, 1.0, -1.0, 1.0])

    def taken(**paths):
        poses = posed(**paths).poses
        swing = everywhere(View.FACE_ON, np.concatenate([poses] * len(noise)))
        swing.samples[:, 1] += noise * (swing.columns.places != 0)[:, None]
        return take(HAND_HEIGHT, swing, ALL_FOUND)

    both = taken(lead_wrist=path, trail_wrist=path)
    one = taken(
        **{"lead_wrist": path, "trail_wrist": path} | {lost: moving((0.0, 0.4), away, 5.0, 7.0)}
    )
    assert both.uncertainty == pytest.approx(0.5 * HAND_HEIGHT.doubt_from(View.FACE_ON))
    assert one.value == pytest.approx(both.value + 5.0)
    assert one.uncertainty == pytest.approx(5.0 * HAND_HEIGHT.doubt_from(View.FACE_ON))


def test_a_knee_going_toward_the_ball_measures_its_way():
    swing = posed(
        View.DOWN_THE_LINE,
        lead_ankle=(0.0, 0.0),
        trail_knee=moving((0.0, 0.3), (0.06, 0.3), 5.0, 6.0),
    )
    assert value(KNEE_TRAVEL, swing) == pytest.approx(6.0)


def test_drift_is_away_from_the_target():
    swing = posed(
        lead_shoulder=moving((0.1, 0.8), (0.0, 0.8), 1.0, 4.0),
        trail_shoulder=moving((-0.1, 0.8), (-0.2, 0.8), 1.0, 4.0),
    )
    assert value(UPPER_BODY_DRIFT, swing) == pytest.approx(10.0)


@pytest.mark.parametrize(
    ("hand", "degrees"), [((-0.3, 0.8), 90.0), ((0.0, 1.1), 180.0), ((0.1, 1.1), 198.435)]
)
def test_the_arm_swing_goes_on_growing_past_straight_up(hand, degrees):
    swing = posed(lead_shoulder=(0.0, 0.8), lead_wrist=hand)
    assert value(ARM_SWING, swing) == pytest.approx(degrees)


def test_a_lead_wrist_where_no_arm_swings_gives_no_swing_of_the_arm():
    swing = posed(lead_shoulder=(0.0, 0.8), lead_wrist=(0.3, 1.1))  # 45 degrees past straight up
    taken = take(ARM_SWING, swing, ALL_FOUND)
    assert isinstance(taken, Reason)


def test_errors_past_where_an_arm_swings_make_the_swing_of_a_long_arm_less_sure():
    def arm(degrees: float) -> FloatArray:
        way = np.radians(degrees)
        hand = (-0.3 * np.sin(way), 0.8 - 0.3 * np.cos(way))
        return posed(lead_shoulder=(0.0, 0.8), lead_wrist=hand).poses

    drawn = np.concatenate([arm(200.0), arm(180.0), arm(220.0), arm(200.0)])
    taken = take(ARM_SWING, everywhere(View.FACE_ON, drawn), ALL_FOUND)
    assert isinstance(taken, MeasuredValue)
    assert taken.value == pytest.approx(200.0)
    assert taken.uncertainty == pytest.approx(
        ARM_SWING.doubt_from(View.FACE_ON) * np.sqrt(2.0 * 20.0**2 / 3.0)
    )


def test_the_head_turn_is_read_from_nose_and_ears():
    turn = np.radians(35.0)
    half = 0.045
    ears = half * np.cos(turn)
    swing = posed(
        lead_ear=(ears, 0.9), trail_ear=(-ears, 0.9), nose=(1.5 * half * np.sin(turn), 0.88)
    )
    assert measures.head_turn(swing)[0, 0] == pytest.approx(35.0, abs=4.0)


def test_a_head_that_would_face_backward_has_its_ears_exchanged_and_tells_no_turn():
    swing = posed(lead_ear=(-0.04, 0.9), trail_ear=(0.04, 0.9), nose=(-0.03, 0.88))
    assert np.isnan(measures.head_turn(swing)[~swing.drawn]).all()
    told = [m for m in MEASURES if m.name.startswith("head_turn_p")]
    assert len(told) == 3
    for measure in told:
        assert isinstance(take(measure, swing, ALL_FOUND), Reason)


def test_noise_that_turns_a_head_too_far_makes_its_turn_less_sure_but_leaves_it_told():
    def head(degrees: float) -> FloatArray:
        turn = np.radians(degrees)
        ears, nose = 0.045 * np.cos(turn), 0.0675 * np.sin(turn)
        return posed(lead_ear=(ears, 0.9), trail_ear=(-ears, 0.9), nose=(nose, 0.88)).poses

    drawn = np.concatenate([head(110.0), head(100.0), head(130.0)])
    (measure,) = (m for m in MEASURES if m.name == "head_turn_p9")
    taken = take(measure, everywhere(View.FACE_ON, drawn), ALL_FOUND)
    assert isinstance(taken, MeasuredValue)
    assert taken.value == pytest.approx(110.0)
    assert taken.uncertainty == pytest.approx(
        measure.doubt_from(View.FACE_ON) * np.sqrt((10.0**2 + 20.0**2) / 2.0)
    )


def test_measure_names_are_unique_and_belong_to_their_views():
    names = [m.name for m in MEASURES]
    assert len(names) == len(set(names))
    for fault in CATALOGUE.values():
        for view, criteria in fault.criteria.items():
            assert all(view in c.measure.views for c in criteria)


def test_forward_bend_is_lost_by_as_much_as_the_trunk_comes_up():
    def chest(grid):
        bend = np.radians(np.interp(grid, [1.0, 4.0, 7.0], [35.0, 35.0, 20.0]))
        return 0.3 * np.stack([np.sin(bend), np.cos(bend)], axis=-1) + [0.0, 0.5]

    hips = dict.fromkeys(("lead_hip", "trail_hip"), (0.0, 0.5))
    shoulders = dict.fromkeys(("lead_shoulder", "trail_shoulder"), chest)
    assert value(FORWARD_BEND_LOST, posed(View.DOWN_THE_LINE, **hips, **shoulders)) == (
        pytest.approx(15.0)
    )


def test_a_pelvis_that_only_turns_has_not_moved_toward_the_ball():
    lead = moving((0.0, 0.5), (-0.04, 0.5), 4.0, 6.0)
    trail = moving((0.0, 0.5), (0.04, 0.5), 4.0, 6.0)
    swing = posed(View.DOWN_THE_LINE, lead_hip=lead, trail_hip=trail, lead_ankle=(0.1, 0.0))
    assert value(PELVIS_TRAVEL, swing) == pytest.approx(0.0, abs=1e-9)


def test_the_pelvis_travels_over_the_ground():
    hips = moving((0.0, 0.5), (0.07, 0.5), 4.0, 6.0)
    ankle = moving((0.1, 0.0), (0.12, 0.0), 4.0, 6.0)
    swing = posed(View.DOWN_THE_LINE, lead_hip=hips, trail_hip=hips, lead_ankle=ankle)
    assert value(PELVIS_TRAVEL, swing) == pytest.approx(7.0)


def test_a_slide_is_told_from_the_lead_ankle_and_from_address():
    lead = moving((0.05, 0.5), (0.18, 0.5), 4.0, 7.0)
    trail = moving((-0.05, 0.5), (0.08, 0.5), 4.0, 7.0)
    swing = posed(lead_hip=lead, trail_hip=trail, lead_ankle=(0.12, 0.04))
    assert value(BEHIND_ANKLE, swing) == pytest.approx(-1.0)
    assert value(TRAVEL, swing) == pytest.approx(13.0)


@pytest.mark.parametrize("inclination", [20.0, 45.0, 90.0])
@pytest.mark.parametrize("hinge", [80.0, 90.0, 120.0])
def test_the_wrists_angle_is_told_whatever_plane_the_shaft_lies_in(hinge, inclination):
    # At P5 the lead arm points away from the target; the shaft turns about its wrist in a plane
    # through it that is inclined to the ground, so that the picture shows it shorter than it is.
    turn, up = np.radians(180.0 - hinge), np.sin(np.radians(inclination))

    def clubhead(grid):
        at_p5 = np.abs(grid - 5.0) < 0.5
        seen = 0.5 * np.array([-np.cos(turn), up * np.sin(turn)])
        from_wrist = np.where(at_p5[:, None], seen, [0.0, 0.5])
        return from_wrist + np.array([-0.3, 0.8])

    swing = posed(lead_shoulder=(0.0, 0.8), lead_wrist=(-0.3, 0.8), clubhead=clubhead)
    assert value(HINGE, swing) == pytest.approx(hinge)
    assert value(OPENED, swing) == pytest.approx(hinge - 90.0)
