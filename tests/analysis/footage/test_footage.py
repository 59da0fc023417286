import dataclasses

import numpy as np
import pytest

from service.analysis.analyse import analyse
from service.analysis.pose.points import Point, swap_sides
from service.analysis.types import Handedness, Intent, Level, Status, View
from tests.swings import CLUB, FEET, clip, finding, paced, without
from training.simulator import Camera, Golfer, film, swing_motion


def codes(recording):
    return {remark.code for remark in analyse(recording).quality.remarks}


def test_good_footage_gets_no_remark():
    for view in View:
        _, recording = clip(view, fps=240.0)
        assert codes(recording) == set()


def test_ordinary_video_is_too_slow_for_impact():
    _, recording = clip(fps=30.0)
    assert "low_frame_rate" in codes(recording)


def test_missing_feet_and_club_are_told():
    _, recording = clip(fps=240.0)
    assert codes(without(recording, FEET + CLUB)) == {"feet_not_seen", "club_not_seen"}


def test_feet_that_are_not_in_a_quarter_of_the_frames_are_told():
    _, recording = clip(fps=240.0)
    points = recording.points.copy()
    points[::4, FEET] = np.nan
    remarks = analyse(dataclasses.replace(recording, points=points)).quality.remarks
    told = next(remark for remark in remarks if remark.code == "feet_not_seen")
    assert "only seen in 75 % of the frames" in told.text


def test_many_repairs_are_told_with_their_number():
    _, recording = clip(fps=240.0)
    rng = np.random.default_rng(1)
    points = recording.points.copy()
    wild = rng.random(points.shape[:2]) < 0.02
    points[wild] += 0.5 * np.ptp(points[:, Point.NOSE, 1]) + 100.0
    remarks = analyse(dataclasses.replace(recording, points=points)).quality.remarks
    told = next(r for r in remarks if r.code == "keypoints_repaired")
    assert int(told.text.split()[0]) > 0.7 * np.count_nonzero(wild)


@pytest.mark.parametrize(("roll", "told"), [(3.0, False), (6.0, True)])
def test_a_rolled_camera_is_told_by_the_feet(roll, told):
    _, recording = clip(fps=240.0)
    turn = np.radians(roll)
    rolled = recording.points @ np.array(
        [[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]]
    )
    assert ("camera_tilted" in codes(dataclasses.replace(recording, points=rolled))) is told


def test_a_camera_well_off_the_line_is_told():
    motion = swing_motion(Golfer())
    recording = film(motion, Camera.standing(View.DOWN_THE_LINE, yaw=25.0), fps=240.0)
    assert "camera_off_line" in codes(recording)


def test_a_joint_lost_for_half_the_swing_is_named():
    _, recording = clip(fps=240.0)
    points = recording.points.copy()
    points[::2, Point.TRAIL_KNEE] = np.nan
    points[1::4, Point.TRAIL_KNEE] = np.nan
    remarks = analyse(dataclasses.replace(recording, points=points)).quality.remarks
    lost = next(r for r in remarks if r.code == "joints_lost")
    assert "trail knee" in lost.text


@pytest.mark.parametrize("joint", [Point.LEAD_WRIST, Point.TRAIL_ELBOW, Point.LEAD_HIP])
def test_a_joint_that_is_missing_throughout_is_told_with_what_to_do(joint):
    _, recording = clip(fps=240.0)
    points = recording.points.copy()
    points[:, joint] = np.nan
    remarks = analyse(dataclasses.replace(recording, points=points)).quality.remarks
    missing = next(r for r in remarks if r.code == "joints_missing")
    assert joint.label in missing.text
    assert (missing.level, bool(missing.fix)) == (Level.WARNING, True)
    assert "joints_missing" not in codes(recording)


def played(recording, speed):
    """The same film slowed down without saying so."""
    return dataclasses.replace(recording, times=recording.times / speed)


@pytest.mark.parametrize(
    ("slowed", "speed"), [(0.5, 0.5), (0.45, 0.5), (0.25, 0.25), (0.125, 0.125)]
)
def test_a_film_that_plays_slow_without_saying_so_is_told_with_the_speed_to_send(slowed, speed):
    for view in View:
        _, recording = clip(view, fps=240.0)
        remarks = analyse(played(recording, slowed)).quality.remarks
        slow = next(r for r in remarks if r.code == "plays_slow")
        assert f"playback_speed {speed:g} " in slow.fix


def test_a_slow_rehearsal_is_no_film_that_plays_slow():
    _, recording = clip(fps=240.0)
    slowed = dataclasses.replace(played(recording, 0.25), intent=Intent.REHEARSAL)
    assert "plays_slow" not in codes(slowed)


@pytest.mark.parametrize("view", View)
@pytest.mark.parametrize("hand", Handedness)
def test_a_handedness_that_contradicts_the_motion_is_told_and_nothing_is_judged(view, hand):
    _, recording = clip(view, fps=240.0)
    if hand is Handedness.LEFT:
        recording = mirrored(recording)
    other = next(h for h in Handedness if h is not hand)
    wrong = analyse(dataclasses.replace(recording, handedness=other))
    assert "handedness_contradicts_motion" in {r.code for r in wrong.quality.remarks}
    assert {f.reason and f.reason.code for f in wrong.findings} == {"handedness_unsure"}
    assert "handedness_contradicts_motion" not in codes(
        dataclasses.replace(recording, handedness=hand)
    )


@pytest.mark.parametrize("view", View)
def test_a_view_that_contradicts_the_picture_is_told_and_nothing_is_judged_by_it(view):
    _, recording = clip(view, fps=240.0)
    other = next(v for v in View if v is not view)
    wrong = analyse(dataclasses.replace(recording, view=other))
    assert "view_contradicts_picture" in {r.code for r in wrong.quality.remarks}
    assert "camera_tilted" not in {r.code for r in wrong.quality.remarks}
    assert {f.reason and f.reason.code for f in wrong.findings} == {"view_unsure"}
    assert "view_contradicts_picture" not in codes(dataclasses.replace(recording, view=view))


def test_frames_left_out_at_the_old_rate_are_told():
    _, recording = clip(fps=240.0)
    assert "plays_fast" in codes(played(recording, 2.0))
    assert "plays_fast" not in codes(recording)


def test_feet_are_level_whichever_hand_was_given():
    _, recording = clip(fps=240.0)
    assert "camera_tilted" not in codes(dataclasses.replace(recording, handedness=Handedness.LEFT))


def mirrored(recording):
    """The left-hander in the mirror."""
    points = swap_sides(recording.points) * np.array([-1.0, 1.0])
    return dataclasses.replace(
        recording, points=points, confidence=swap_sides(recording.confidence)
    )


@pytest.mark.parametrize("view", list(View))
def test_no_haste_is_told_of_a_film_that_plays_slow_in_part(view):
    """A phone's slow motion that sets in before the top, sent at one rate."""
    motion, recording = clip(view, fps=60.0)
    times = motion.position_times
    pace = np.where(recording.times > (times[2] + times[3]) / 2, 4.0, 1.0)
    slow = paced(recording, pace)
    result = analyse(slow)
    assert "plays_slow" in {remark.code for remark in result.quality.remarks}
    assert finding(result, "hurried_transition").reason.code == "times_off"
    assert finding(analyse(recording), "hurried_transition").status is Status.ABSENT
