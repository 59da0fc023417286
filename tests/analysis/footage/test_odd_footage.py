"""Footage that shows the swing otherwise than it was is told, and what it hides is not judged."""

import dataclasses

import numpy as np
import pytest

from service.analysis.analyse import analyse
from service.analysis.faults import CATALOGUE
from service.analysis.footage.clock import uneven_frames
from service.analysis.pose.points import Point, swap_sides
from service.analysis.pose.stature import body_height
from service.analysis.types import Intent, Position, Source, Status, View
from tests.swings import CLUB, clip, cut, finding, paced, without
from training.simulator import FaultAmounts

LEGS = [p for p in Point if any(n in p.name for n in ("KNEE", "ANKLE", "HEEL", "TOE"))]


def filmed(view, fps=60.0):
    return clip(view, fps=fps)[1]


def codes(result):
    return {remark.code for remark in result.quality.remarks}


def told(result, code):
    return next(remark for remark in result.quality.remarks if remark.code == code)


def not_judged(result):
    """The reasons of faults that are not judged."""
    return {f.fault: f.reason.code for f in result.findings if f.reason}


@pytest.fixture(scope="module")
def plain():
    return {view: analyse(filmed(view)) for view in View}


@pytest.mark.parametrize("view", list(View))
def test_what_travels_over_the_ground_is_not_judged_where_the_camera_is_turned(plain, view):
    recording = filmed(view)
    gone = np.linspace(0.0, 1.0, len(recording.times))[:, None, None]
    pan = 0.4 * body_height(recording.points) * gone * np.array([1.0, 0.1])
    result = analyse(dataclasses.replace(recording, points=recording.points + pan))
    assert "camera_moves" in codes(result)
    assert "camera_moves" not in codes(plain[view])
    hidden = {name for name, code in not_judged(result).items() if code == "camera_moves"}
    assert hidden == {
        name
        for name, fault in CATALOGUE.items()
        if "camera_moves" in fault.unless and view in fault.views
    }


@pytest.mark.parametrize("view", list(View))
@pytest.mark.parametrize("grown", [1.2, 1 / 1.2])
def test_a_camera_that_zooms_in_the_swing_is_told(view, grown):
    motion, recording = clip(view, fps=60.0)
    start, impact = motion.position_times[[0, 6]]
    gone = np.interp(recording.times, [start, impact], [0.0, 1.0])[:, None, None]
    middle = np.nanmedian(recording.points, axis=(0, 1))
    zoomed = middle + (recording.points - middle) * grown**gone
    result = analyse(dataclasses.replace(recording, points=zoomed))
    assert "camera_moves" in codes(result)
    assert not_judged(result)["handle_rise"] == "camera_moves"


@pytest.mark.parametrize("view", list(View))
def test_what_travels_is_not_judged_in_coordinates_counted_from_the_hips(plain, view):
    recording = filmed(view)
    hips = recording.points[:, [Point.LEAD_HIP, Point.TRAIL_HIP]].mean(axis=1, keepdims=True)
    result = analyse(dataclasses.replace(recording, points=recording.points - hips))
    assert "hips lie at one place" in told(result, "camera_moves").text
    assert "camera_moves" not in codes(plain[view])
    assert not_judged(result)["handle_rise"] == "camera_moves"


@pytest.mark.parametrize(
    ("view", "scaled"),
    [(View.FACE_ON, True), (View.DOWN_THE_LINE, True), (View.DOWN_THE_LINE, False)],
)
def test_by_places_in_a_piece_cut_out_about_the_player_nothing_is_judged(plain, view, scaled):
    recording = filmed(view)
    body = recording.points[:, : Point.GRIP_END]
    least, largest = (np.expand_dims(edge(body, axis=1), 1) for edge in (np.nanmin, np.nanmax))
    size = (largest - least).max(axis=2, keepdims=True)
    middle = 0.5 * (least + largest)
    cut_out = (recording.points - middle) / size if scaled else recording.points - least
    result = analyse(dataclasses.replace(recording, points=cut_out))
    assert "cut_out_coordinates" in codes(result)
    assert "cut_out_coordinates" not in codes(plain[view])
    assert {f.status for f in result.findings} == {Status.NOT_ASSESSABLE}
    assert "cut_out_coordinates" in not_judged(result).values()


@pytest.mark.parametrize("view", list(View))
def test_a_picture_that_moves_and_comes_back_before_impact_is_told(plain, view):
    motion, recording = clip(view, fps=60.0)
    start, _, level, top, _, _, impact, *_ = motion.position_times
    away = np.interp(recording.times, [start, level, top, impact], [0.0, 1.0, 1.0, 0.0])
    way = 0.06 * body_height(recording.points) * away[:, None, None] * np.array([1.0, 0.0])
    result = analyse(dataclasses.replace(recording, points=recording.points + way))
    assert "Both feet move" in told(result, "camera_moves").text
    assert "camera_moves" not in codes(plain[view])


def test_where_the_hips_are_over_the_feet_is_not_judged_in_a_picture_that_leans(plain):
    recording = filmed(View.FACE_ON)
    turn = np.radians(10.0)
    rolled = recording.points @ np.array(
        [[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]]
    )
    result = analyse(dataclasses.replace(recording, points=rolled))
    assert "camera_leans" in codes(result)
    assert not_judged(result)["hips_past_lead_foot"] == "camera_leans"
    assert finding(plain[View.FACE_ON], "hips_past_lead_foot").status is Status.ABSENT


@pytest.mark.parametrize("view", list(View))
def test_legs_whose_sides_are_exchanged_all_through_are_told_and_not_judged(plain, view):
    recording = filmed(view)
    points = recording.points.copy()
    points[:, LEGS] = swap_sides(points)[:, LEGS]
    result = analyse(dataclasses.replace(recording, points=points))
    assert "legs_exchanged" in codes(result)
    assert "legs_exchanged" not in codes(plain[view])
    fault = "trail_heel_kick" if view is View.FACE_ON else "trail_knee_drive"
    assert not_judged(result)[fault] == "legs_exchanged"
    assert finding(plain[view], fault).status is Status.ABSENT


@pytest.mark.parametrize("view", list(View))
@pytest.mark.parametrize(
    "pair",
    [
        (Point.LEAD_SHOULDER, Point.LEAD_ELBOW),
        (Point.TRAIL_ELBOW, Point.TRAIL_WRIST),
        (Point.LEAD_KNEE, Point.LEAD_ANKLE),
    ],
)
def test_two_joints_exchanged_along_a_limb_are_told_and_nothing_is_judged(plain, view, pair):
    recording = filmed(view)
    points = recording.points.copy()
    points[:, pair] = points[:, pair[::-1]]
    result = analyse(dataclasses.replace(recording, points=points))
    assert not result.swing_found or "joints_out_of_order" in codes(result)
    assert {f.status for f in result.findings} <= {Status.NOT_ASSESSABLE}
    assert "joints_out_of_order" not in codes(plain[view])


@pytest.mark.parametrize(
    ("view", "pair"),
    [
        (View.FACE_ON, (Point.LEAD_KNEE, Point.LEAD_ANKLE)),
        (View.DOWN_THE_LINE, (Point.TRAIL_HIP, Point.TRAIL_KNEE)),
        (View.FACE_ON, (Point.TRAIL_SHOULDER, Point.TRAIL_ELBOW)),
    ],
)
def test_joints_exchanged_are_told_in_a_clip_that_begins_at_the_top_too(view, pair):
    motion, recording = clip(view, fps=60.0)
    late = cut(recording, motion.position_times[3] - 0.02, recording.times[-1])
    points = late.points.copy()
    points[:, pair] = points[:, pair[::-1]]
    result = analyse(dataclasses.replace(late, points=points))
    assert {"clip_starts_late", "joints_out_of_order"} <= codes(result)
    assert {f.status for f in result.findings} == {Status.NOT_ASSESSABLE}
    plain = codes(analyse(late))
    assert "clip_starts_late" in plain
    assert "joints_out_of_order" not in plain


@pytest.mark.parametrize("view", list(View))
def test_of_a_player_who_sits_the_tempo_alone_is_judged(plain, view):
    recording = filmed(view)
    points = recording.points.copy()
    thigh = np.median(points[:, Point.LEAD_KNEE, 1] - points[:, Point.LEAD_HIP, 1])
    points[:, [p for p in Point if p not in LEGS], 1] += 0.9 * thigh
    result = analyse(dataclasses.replace(recording, points=points))
    assert result.swing_found
    assert "player_sits" in codes(result)
    assert "player_sits" not in codes(plain[view])
    judged = {f.fault for f in result.findings if f.status is not Status.NOT_ASSESSABLE}
    assert judged == {"hurried_transition"}


@pytest.mark.parametrize("view", list(View))
def test_a_downswing_at_half_speed_is_not_called_hurried(view):
    motion, recording = clip(view, fps=60.0)
    _, _, _, top, _, _, impact, *_ = motion.position_times
    slow = (recording.times > top) & (recording.times < impact)
    result = analyse(paced(recording, np.where(slow, 1.6, 1.0)))
    assert "plays_unevenly" in codes(result)
    assert finding(result, "hurried_transition").reason.code == "times_off"


def test_a_backswing_that_is_far_too_slow_for_the_downswing_hides_haste():
    motion, recording = clip(View.FACE_ON, fps=60.0)
    result = analyse(
        paced(recording, np.where(recording.times < motion.position_times[3], 4.0, 1.0))
    )
    assert "plays_unevenly" in codes(result)
    assert finding(result, "hurried_transition").reason.code == "times_off"
    rehearsed = analyse(dataclasses.replace(recording, intent=Intent.REHEARSAL))
    assert "plays_unevenly" not in codes(rehearsed)


@pytest.mark.parametrize("view", list(View))
def test_hands_of_a_film_that_plays_fast_are_not_called_high(plain, view):
    recording = filmed(view)
    result = analyse(dataclasses.replace(recording, times=recording.times / 4.0))
    assert "plays_fast" in codes(result)
    assert not_judged(result)["handle_rise"] == "times_off"
    assert "handle_rise" not in not_judged(plain[view])


def _between(recording, frames, step):
    """Frames and shares of one, joints on straight lines between them, at the old rate."""
    before = frames.astype(int)
    after = np.minimum(before + 1, len(recording.times) - 1)
    share = (frames - before)[:, None, None]
    return dataclasses.replace(
        recording,
        points=(1 - share) * recording.points[before] + share * recording.points[after],
        confidence=recording.confidence[before],
        times=np.arange(len(frames)) * step,
    )


@pytest.mark.parametrize("shown", ["twice", "between"])
@pytest.mark.parametrize("view", list(View))
def test_a_backswing_into_which_frames_were_filled_hides_no_haste(view, shown):
    motion, recording = clip(view, amounts=FaultAmounts(hurried_transition=1.0), fps=60.0)
    assert finding(analyse(recording), "hurried_transition").status is Status.PRESENT
    top = int(60 * motion.position_times[3])
    half = np.arange(0.0, top, 0.5)
    frames = np.concatenate([half, np.arange(top, len(recording.times))])
    slow = _between(recording, np.floor(frames) if shown == "twice" else frames, 1 / 60)
    result = analyse(slow)
    assert "plays_unevenly" in codes(result)
    assert finding(result, "hurried_transition").reason.code == "times_off"


@pytest.mark.parametrize(("fps", "told"), [(22.0, True), (30.0, False)])
def test_frames_of_a_part_that_nobody_could_swing_faster_were_not_filled_in(fps, told):
    times = np.arange(40) / fps
    # Hands that gather speed: three of seven frames of the downswing lie in the middle of others.
    steps = np.ones(39) + 0.4 * (np.arange(39) % 2)
    steps[20:27] = [0.5, 0.5, 0.5, 0.5, 1.5, 3.5, 6.5]
    at = np.concatenate([[0.0], np.cumsum(steps)])
    points = np.zeros((40, len(Point), 2)) + at[:, None, None]
    positions = [Position(k, Source.NOT_FOUND) for k in range(1, 11)]
    for number, frame in ((1, 0), (4, 20), (7, 27)):
        positions[number - 1] = Position(number, Source.OBSERVED, times[frame], float(frame))
    seen = (tuple(positions), Intent.FULL_SPEED, points, times)
    assert (uneven_frames([seen]) != [None]) is told


@pytest.mark.parametrize("fps", [30.0, 60.0])
@pytest.mark.parametrize("view", list(View))
def test_a_backswing_that_lacks_frames_is_not_called_hurried(view, fps):
    motion, recording = clip(view, fps=fps)
    start, _, level, *_ = motion.position_times
    lost = abs(recording.times - 0.3 * start - 0.7 * level) < 0.08
    assert np.count_nonzero(lost) >= 4
    left = dataclasses.replace(
        recording,
        points=recording.points[~lost],
        confidence=recording.confidence[~lost],
        times=recording.times[~lost],
    )
    assert "plays_unevenly" not in codes(analyse(left))
    untold = dataclasses.replace(left, times=recording.times[: len(left.times)])
    result = analyse(untold)
    assert "plays_unevenly" in codes(result)
    assert finding(result, "hurried_transition").reason.code == "times_off"


@pytest.mark.parametrize("view", list(View))
def test_hands_that_an_estimator_holds_where_it_lost_them_do_not_move_the_top(plain, view):
    recording = filmed(view)
    top = round(plain[view].positions[3].frame)
    points = recording.points.copy()
    arms = [
        p for p in Point if any(n in p.name for n in ("WRIST", "HAND", "GRIP", "CLUB", "SHAFT"))
    ]
    points[top : top + 12, arms] = points[top, arms]
    result = analyse(dataclasses.replace(recording, points=points))
    assert "hands_held" in codes(result)
    assert "hands_held" not in codes(plain[view])
    assert result.positions[3].time == pytest.approx(plain[view].positions[3].time, abs=0.034)
    assert {f.fault for f in result.findings if f.status is Status.PRESENT} == set()


def _scaled(club, _):
    return 0.5 * club


def _exchanged(club, _):
    return club[:, ::-1]


def _late(club, frames):
    return np.concatenate([club[:1].repeat(frames, axis=0), club[:-frames]])


@pytest.mark.parametrize("stray", [_scaled, _exchanged, _late])
def test_club_points_that_are_not_at_the_hands_are_told_and_left_out(plain, stray):
    recording = filmed(View.FACE_ON)
    points = recording.points.copy()
    points[:, CLUB] = stray(points[:, CLUB], len(points) // 6)
    result = analyse(dataclasses.replace(recording, points=points))
    assert {"club_astray", "club_not_seen"} <= codes(result)
    bare = analyse(without(recording, CLUB))
    assert [f.status for f in result.findings] == [f.status for f in bare.findings]
    assert "club_astray" not in codes(plain[View.FACE_ON])


@pytest.mark.parametrize("view", list(View))
def test_a_foot_that_is_taken_for_the_clubhead_is_told_and_left_out(plain, view):
    recording = filmed(view)
    down, impact = (round(plain[view].positions[number - 1].frame) for number in (5, 7))
    shoe = slice(down, impact)
    points, bare = recording.points.copy(), recording.points.copy()
    points[shoe, Point.CLUBHEAD] = points[shoe, Point.LEAD_ANKLE]
    bare[shoe, [Point.SHAFT_MID, Point.CLUBHEAD]] = np.nan
    result = analyse(dataclasses.replace(recording, points=points))
    unseen = analyse(dataclasses.replace(recording, points=bare))
    assert "stays on a foot" in told(result, "club_astray").text
    assert (result.positions, result.measures, result.findings) == (
        unseen.positions,
        unseen.measures,
        unseen.findings,
    )


@pytest.mark.parametrize("view", list(View))
def test_a_clubhead_that_rests_at_a_foot_at_address_is_one(plain, view):
    recording = filmed(view)
    start = round(plain[view].positions[0].frame)
    points = recording.points.copy()
    points[:start, Point.CLUBHEAD] = points[:start, Point.LEAD_TOE]
    result = analyse(dataclasses.replace(recording, points=points))
    assert "club_astray" not in codes(result)


@pytest.mark.parametrize("view", list(View))
def test_a_finish_that_is_held_for_long_is_no_squeezed_picture(plain, view):
    recording = filmed(view)
    shown = [*range(len(recording.times)), *[len(recording.times) - 1] * 1200]
    held = dataclasses.replace(
        recording,
        points=recording.points[shown],
        confidence=recording.confidence[shown],
        times=np.arange(len(shown)) / 60.0,
    )
    assert "picture_squeezed" not in codes(analyse(held))


def test_frames_in_which_somebody_else_is_followed_are_left_out(plain):
    recording = filmed(View.FACE_ON)
    top = round(plain[View.FACE_ON].positions[3].frame)
    points = recording.points.copy()
    elsewhere = 0.8 * body_height(points) * np.array([1.0, 0.0])
    points[top - 2 : top + 2] = points[0] + elsewhere
    result = analyse(dataclasses.replace(recording, points=points))
    assert "player_left" in codes(result)
    assert result.positions[3].time == pytest.approx(
        plain[View.FACE_ON].positions[3].time, abs=0.05
    )
    assert {f.fault for f in result.findings if f.status is Status.PRESENT} == set()


def stuck(recording, first, *points):
    """The clip with some points shown from a frame on where they are in it."""
    places = recording.points.copy()
    places[first:, points] = places[first, points]
    return dataclasses.replace(recording, points=places)


def test_a_knee_that_stays_in_its_very_place_is_not_called_still():
    _, recording = clip(View.DOWN_THE_LINE, amounts=FaultAmounts(trail_knee_drive=1.0), fps=60.0)
    result = analyse(stuck(recording, 0, Point.TRAIL_KNEE, Point.TRAIL_ANKLE))
    assert finding(analyse(recording), "trail_knee_drive").status is Status.PRESENT
    assert finding(result, "trail_knee_drive").status is Status.NOT_ASSESSABLE
    assert "trail knee" in told(result, "joints_missing").text


def test_a_wrist_that_stays_behind_after_impact_is_not_called_cupped(plain):
    recording = filmed(View.FACE_ON)
    impact = round(plain[View.FACE_ON].positions[6].frame)
    result = analyse(stuck(recording, impact + 1, Point.LEAD_WRIST))
    assert finding(plain[View.FACE_ON], "lead_wrist_cup").status is Status.ABSENT
    assert finding(result, "lead_wrist_cup").status is Status.NOT_ASSESSABLE


def test_a_wrist_that_is_somebody_elses_is_not_called_cupped(plain):
    recording = filmed(View.FACE_ON)
    first, last = (round(plain[View.FACE_ON].positions[k].frame) for k in (4, 8))
    points = recording.points.copy()
    beside = points[0].mean(axis=0) + body_height(points) * np.array([0.3, 0.0])
    points[first:last, Point.LEAD_WRIST] = beside
    points[first:last, Point.LEAD_WRIST, 0] += np.arange(last - first) % 3
    result = analyse(dataclasses.replace(recording, points=points))
    assert finding(plain[View.FACE_ON], "lead_wrist_cup").status is Status.ABSENT
    assert finding(result, "lead_wrist_cup").status is Status.NOT_ASSESSABLE


@pytest.mark.parametrize("view", list(View))
def test_arms_put_between_two_places_over_the_top_do_not_hide_that_they_lift(view):
    _, recording = clip(view, amounts=FaultAmounts(arms_lift_at_top=1.0), fps=60.0)
    seen = analyse(recording)
    first, last = (round(seen.positions[k].frame) for k in (2, 4))
    share = np.linspace(0.0, 1.0, last - first + 1)[:, None, None]
    points = recording.points.copy()
    arms = [p for p in Point if any(n in p.name for n in ("ELBOW", "WRIST", "HAND"))]
    ends = points[[first, last]][:, arms]
    points[first : last + 1, arms] = ends[0] + share * (ends[1] - ends[0])
    result = analyse(dataclasses.replace(recording, points=points))
    assert finding(seen, "arms_lift_at_top").status is Status.PRESENT
    assert finding(result, "arms_lift_at_top").status is Status.NOT_ASSESSABLE


@pytest.mark.parametrize(
    ("joint", "code"), [("SHOULDER", "joints_out_of_order"), ("KNEE", "legs_exchanged")]
)
@pytest.mark.parametrize("view", list(View))
def test_a_pair_of_joints_exchanged_by_itself_is_told(plain, view, joint, code):
    recording = filmed(view)
    pair = [Point[f"LEAD_{joint}"], Point[f"TRAIL_{joint}"]]
    points = recording.points.copy()
    points[:, pair] = points[:, pair[::-1]]
    assert code in codes(analyse(dataclasses.replace(recording, points=points)))
    assert code not in codes(plain[view])
