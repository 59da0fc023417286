import dataclasses

import numpy as np
import pytest

from service.analysis.analyse import analyse
from service.analysis.measured import measure_swing
from service.analysis.pose.points import Point
from service.analysis.types import Intent, Status, View
from tests.swings import FEET, clip, cut, frames, without

HANDS_AND_CLUB = [p for p in Point if p >= Point.GRIP_END or "WRIST" in p.name or "HAND" in p.name]


@pytest.mark.parametrize("view", list(View))
def test_waggles_before_the_swing_are_not_swings(view):
    swing, recording = clip(view, waggles=3)
    result = analyse(recording)
    assert len(result.swings) == 1
    assert abs(result.positions[3].time - swing.position_times[3]) < 0.05


@pytest.mark.parametrize("view", list(View))
def test_of_practice_and_real_swing_the_real_one_is_analysed_and_both_are_reported(view):
    swing, recording = clip(view, practice_swings=1)
    result = analyse(recording)
    assert [s.analysed for s in result.swings] == [False, True]
    assert result.swings[0].end <= result.swings[1].start
    assert abs(result.positions[6].time - swing.position_times[6]) < 0.034


@pytest.mark.parametrize("view", list(View))
@pytest.mark.parametrize("pause", [0.3, 1.0])
def test_after_a_pause_the_top_is_where_the_downswing_starts(view, pause):
    swing, recording = clip(view, pause_at_top=pause)
    result = analyse(recording)
    assert len(result.swings) == 1
    assert abs(result.positions[3].time - swing.position_times[3]) < 0.05


@pytest.mark.parametrize("view", list(View))
@pytest.mark.parametrize("length", [0.5, 0.75, 1.0, 1.15])
def test_half_and_overlong_swings_are_swings(view, length):
    _, recording = clip(view, length=length)
    assert analyse(recording).swing_found


@pytest.mark.parametrize("view", list(View))
def test_a_slow_rehearsal_is_a_swing(view):
    swing, recording = clip(view, intent=Intent.REHEARSAL, fps=60)
    result = analyse(recording)
    assert result.swing_found
    assert abs(result.positions[6].time - swing.position_times[6]) < 0.1


@pytest.mark.parametrize("view", list(View))
def test_hands_lowered_after_a_slow_rehearsal_are_not_the_rehearsal(view):
    swing, recording = clip(view, intent=Intent.REHEARSAL, fps=60)
    share = np.clip(np.arange(90) / 15, 0.0, 1.0)[:, None, None]  # back to address in 0.25 s
    lowered = (1.0 - share) * recording.points[-1] + share * recording.points[0]
    longer = dataclasses.replace(
        recording,
        points=np.concatenate([recording.points, lowered]),
        confidence=np.concatenate([recording.confidence, *([recording.confidence[-1:]] * 90)]),
        times=np.arange(len(recording.times) + 90) / 60.0,
    )
    result = analyse(longer)
    assert len(result.swings) == 1
    assert abs(result.positions[6].time - swing.position_times[6]) < 0.1


@pytest.mark.parametrize("view", list(View))
@pytest.mark.parametrize("swings", [1, 2])
def test_hands_lowered_before_between_and_after_swings_are_no_swing_though_they_look_more_like_one(
    view, swings, monkeypatch
):
    swing, recording = clip(view, fps=60)
    poses, seconds = recording.points, 1.4
    top = int(swing.position_times[3] * 60)
    on = 0.5 - 0.5 * np.cos(np.linspace(0.0, np.pi, int(60 * seconds)))[:, None, None]
    lowered = (1.0 - on) * poses[-1] + on * poses[0]
    points = np.concatenate([*([lowered, poses] * swings), lowered, poses[:top]])
    every = dataclasses.replace(
        recording,
        points=points,
        confidence=np.ones(points.shape[:2]),
        times=np.arange(len(points)) / 60.0,
    )

    def like_golf(tracks, fall):
        return 6.0 if tracks.times[fall.low] - tracks.times[fall.top] > 0.7 else 5.0

    monkeypatch.setattr("service.analysis.events.detection.log_odds", like_golf)
    result = analyse(every)
    last = seconds + swing.position_times[6] + (swings - 1) * (seconds + len(poses) / 60)
    assert len(result.swings) == swings
    assert result.handedness.value is swing.handedness
    assert abs(result.positions[6].time - last) < 0.06


@pytest.mark.parametrize("view", list(View))
def test_hands_that_sink_a_little_at_the_top_are_still_in_one_swing(view):
    swing, recording = clip(view, pause_at_top=0.6)
    points = recording.points.copy()
    stature = np.ptp(np.nanmedian(points[..., 1], axis=0))
    pause = swing.position_times[3] - 0.3
    sunk = 0.12 * stature * np.exp(-(((recording.times - pause) / 0.08) ** 2))
    points[:, HANDS_AND_CLUB, 1] += sunk[:, None]
    measured = measure_swing(dataclasses.replace(recording, points=points))
    assert len(measured.swings) == 1
    assert recording.times[measured.downswing.start] < swing.position_times[1]
    assert abs(measured.positions[6].time - swing.position_times[6]) < 0.034


def test_standing_still_is_no_swing_and_says_why():
    _, recording = clip()
    still = cut(recording, 0.0, 0.5)
    result = analyse(still)
    assert not result.swing_found
    assert result.reason.code == "hands_stay_level"
    assert result.findings == result.positions == ()


def test_hands_apart_are_no_swing():
    _, recording = clip()
    points = recording.points.copy()
    points[:, Point.LEAD_WRIST, 0] += 200.0
    result = analyse(dataclasses.replace(recording, points=points))
    assert not result.swing_found
    assert result.reason.code == "hands_apart"


def test_without_wrists_no_swing_can_be_found():
    _, recording = clip()
    result = analyse(without(recording, (Point.LEAD_WRIST, Point.TRAIL_WRIST)))
    assert not result.swing_found
    assert result.reason.code == "hands_or_hips_not_seen"


def test_without_a_body_nothing_can_be_measured():
    _, recording = clip()
    hands = (Point.LEAD_WRIST, Point.TRAIL_WRIST)
    result = analyse(without(recording, tuple(point for point in Point if point not in hands)))
    assert not result.swing_found
    assert result.reason.code == "body_not_measurable"


def test_where_no_joint_is_seen_at_all_nobody_was_found():
    _, recording = clip()
    result = analyse(without(recording, tuple(Point)))
    assert not result.swing_found
    assert result.reason.code == "nobody_found"


@pytest.mark.parametrize("view", list(View))
def test_a_clip_that_starts_late_is_analysed_for_what_it_shows(view):
    swing, recording = clip(view)
    start = swing.position_times[2]
    result = analyse(cut(recording, start, np.inf))
    assert result.swing_found
    assert result.positions[0].reason.code == "clip_starts_late"
    assert abs(result.positions[6].time + start - swing.position_times[6]) < 0.034
    assert {r.code for r in result.quality.remarks} >= {"clip_starts_late"}


@pytest.mark.parametrize("view", list(View))
def test_a_clip_that_stops_early_is_analysed_for_what_it_shows(view):
    swing, recording = clip(view)
    result = analyse(cut(recording, 0.0, swing.position_times[7]))
    found = frames(result)
    assert result.swing_found
    assert np.isfinite(found[[2, 3, 4]]).all()
    assert np.isnan(found[9])
    assert result.positions[9].reason.code == "clip_stops_early"


def lost_arm(recording, side, *, sure):
    """The clip with one arm lying on the trunk from the takeaway on, as estimators lose it."""
    points, confidence = recording.points.copy(), recording.confidence.copy()
    later = slice(len(points) // 4, None)
    trunk = points[later][:, [Point.LEAD_SHOULDER, Point.TRAIL_HIP]].mean(axis=1)
    for joint in ("WRIST", "ELBOW"):
        points[later, Point[f"{side}_{joint}"]] = trunk
        confidence[later, Point[f"{side}_{joint}"]] = sure
    return dataclasses.replace(recording, points=points, confidence=confidence)


@pytest.mark.parametrize("view", list(View))
@pytest.mark.parametrize("side", ["LEAD", "TRAIL"])
def test_a_hidden_arm_does_not_hide_the_swing(view, side):
    swing, recording = clip(view)
    result = analyse(lost_arm(recording, side, sure=0.4))
    assert result.swing_found
    assert abs(result.positions[3].time - swing.position_times[3]) < 0.08
    assert abs(result.positions[6].time - swing.position_times[6]) < 0.05


@pytest.mark.parametrize("view", list(View))
def test_a_film_played_eight_times_slower_without_saying_so_still_holds_a_swing(view):
    _, recording = clip(view, fps=240.0)
    slow = dataclasses.replace(recording, times=8.0 * recording.times)
    assert analyse(slow).swing_found


@pytest.mark.parametrize("faster", [16.0, 8.0, 1 / 40])
def test_a_clip_whose_times_no_swing_takes_tells_how_long_it_lasts_and_what_to_check(faster):
    _, recording = clip(View.FACE_ON, fps=120.0)
    times = recording.times / faster
    result = analyse(dataclasses.replace(recording, times=times))
    assert result.reason.code == "times_no_swing_takes"
    assert f"the clip lasts {times[-1]:.2f} s" in result.reason.text
    assert "fps" in result.reason.text
    assert "timestamps" in result.reason.text


@pytest.mark.parametrize("view", list(View))
def test_a_player_who_steps_while_the_hands_fall_does_another_action_and_the_reason_says_so(view):
    _, recording = clip(view)
    points = recording.points.copy()
    stature = np.ptp(np.nanmedian(points[..., 1], axis=0))
    way = np.linspace(0.0, stature, len(points))[:, None]
    points[..., 0] += 2 * way
    points[:, [Point.LEAD_ANKLE, Point.LEAD_KNEE], 0] += way
    result = analyse(dataclasses.replace(recording, points=points))
    assert not result.swing_found
    assert result.reason.code == "looks_like_another_action"
    assert "the whole body travels" in result.reason.text
    assert "the feet step" in result.reason.text


def test_what_is_measured_at_a_lost_wrist_is_left_open():
    _, recording = clip(View.FACE_ON)
    lost = analyse(lost_arm(recording, "TRAIL", sure=0.4))
    said = {f.fault: f for f in lost.findings}
    assert said["handle_rise"].status is Status.NOT_ASSESSABLE


@pytest.mark.parametrize("view", list(View))
def test_a_foot_that_leaps_whole_is_lost_and_no_heel_kick(view):
    swing, recording = clip(view)
    first, last = np.searchsorted(recording.times, swing.position_times[[4, 6]])
    stature = np.ptp(np.nanmedian(recording.points[..., 1], axis=0))
    told = {}
    for what in ("TRAIL_HEEL", "TRAIL"):
        foot = [p for p in (*FEET, Point.LEAD_ANKLE, Point.TRAIL_ANKLE) if p.name.startswith(what)]
        points = recording.points.copy()
        points[first : last + 5, foot] -= np.array([0.0, 0.12 * stature])
        result = analyse(dataclasses.replace(recording, points=points))
        told[what] = {m.name: m.value for m in result.measures}["trail_heel_height"]
    assert told["TRAIL_HEEL"] > 8.0
    assert told["TRAIL"] is None


@pytest.mark.parametrize("view", View)
def test_where_frames_lack_while_the_hands_come_down_the_reason_names_them(view):
    truth, recording = clip(view, fps=60.0)
    impact = round(60.0 * truth.position_times[6])
    points = recording.points.copy()
    points[impact - 4 : impact + 5] = np.nan
    reason = analyse(dataclasses.replace(recording, points=points)).reason
    assert reason.code == "hands_or_hips_not_seen"
    first, last = recording.times[[impact - 4, impact + 4]]
    assert f"missing in 9 frames between {first:.2f} and {last:.2f} s" in reason.text


def test_hands_that_are_lost_for_good_or_in_one_frame_are_not_told_to_go_up_again_or_as_frames():
    truth, recording = clip(fps=8.0)
    impact = int(np.searchsorted(recording.times, truth.position_times[5]))
    for lost, told in ((slice(impact, None), "in 9 frames between"), (impact, "in one frame at")):
        points = recording.points.copy()
        points[lost] = np.nan
        reason = analyse(dataclasses.replace(recording, points=points)).reason
        assert f"missing {told} {recording.times[impact]:.2f}" in reason.text
        assert "on the hands' way down or up again" in reason.text
