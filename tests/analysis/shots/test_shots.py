"""Films that were cut together: one shot is analysed, and the answer says so."""

import dataclasses

import numpy as np
import pytest

from service.analysis.analyse import analyse
from service.analysis.events.cuts import find_all_cuts
from service.analysis.pose.points import N_POINTS, swap_sides
from service.analysis.pose.stature import body_height
from service.analysis.types import Handedness, Source, SwingRecording, View
from tests.analysis.footage.odd import codes
from tests.swings import clip, cut, random_clip
from training.simulator import (
    EstimatorNoise,
    FaultAmounts,
    Golfer,
    film,
    random_camera,
    random_swing,
)

FPS = 60.0
FRAME = 1 / FPS


def joined(*recordings):
    """Films one after the other, at one frame rate."""
    points = np.concatenate([each.points for each in recordings])
    confidence = np.concatenate([each.confidence for each in recordings])
    return dataclasses.replace(
        recordings[0], points=points, confidence=confidence, times=np.arange(len(points)) / FPS
    )


def player(seed, view, hand, *, beside=0.0, larger=1.0):
    """A swing of some player of that hand, elsewhere in the picture and larger."""
    rng = np.random.default_rng(seed)
    motion = random_swing(rng, Golfer(handedness=hand))
    filmed = film(motion, random_camera(rng, view), fps=FPS, noise=EstimatorNoise(), rng=rng)
    return motion, dataclasses.replace(filmed, points=filmed.points * larger + beside)


def stretches(recording):
    scale = body_height(recording.points)
    (found,) = find_all_cuts([(recording.points, recording.confidence, recording.times, scale)])
    return found.shots


def told_times(result):
    return np.array([np.nan if p.time is None else p.time for p in result.positions])


@pytest.mark.parametrize("view", list(View))
def test_of_two_players_in_one_film_one_is_analysed_as_if_filmed_alone(view):
    _, right = player(1, View.FACE_ON, Handedness.RIGHT)
    _, left = player(2, view, Handedness.LEFT, beside=250.0, larger=1.4)
    alone = {hand: analyse(each) for hand, each in (("right", right), ("left", left))}
    result = analyse(joined(right, left))
    own = alone[result.handedness.value.value]
    first = len(right.times) if result.handedness.value is Handedness.LEFT else 0
    assert "film_cut" in codes(result)
    assert result.view == own.view
    assert told_times(result) == pytest.approx(told_times(own) + first * FRAME)
    assert [p.frame - first for p in result.positions] == pytest.approx(
        [p.frame for p in own.positions]
    )
    assert [f.status for f in result.findings] == [f.status for f in own.findings]
    assert len(result.coordinate) == len(result.times) == len(right.times) + len(left.times)
    at_top = result.coordinate[round(result.positions[3].frame)]
    assert at_top == pytest.approx(4.0, abs=0.2)


@pytest.mark.parametrize(("upto", "on_from"), [(4.3, 0.6), (1.6, 3.6), (8.5, 0.4), (3.4, 3.4)])
def test_no_position_is_told_of_the_shot_in_which_the_swing_does_not_lie(upto, on_from):
    """One player's film goes over into another's in the middle of a swing."""
    one, first = player(1, View.FACE_ON, Handedness.RIGHT)
    other, second = player(2, View.DOWN_THE_LINE, Handedness.RIGHT, beside=200.0)

    def when(motion, position):
        times = np.concatenate([[0.0], motion.position_times])
        return float(np.interp(position, np.arange(11), times))

    kept = cut(first, 0.0, when(one, upto)), cut(second, when(other, on_from), np.inf)
    result = analyse(joined(*kept))
    border = len(kept[0].times) * FRAME
    assert "film_cut" in codes(result)
    told = told_times(result)
    told = told[~np.isnan(told)]
    assert told.size
    assert (told < border).all() or (told >= border - FRAME / 2).all()
    truth = one.position_times if told[0] < border else other.position_times
    offset = 0.0 if told[0] < border else border - when(other, on_from)
    impact = result.positions[6]
    assert impact.source is Source.OBSERVED
    assert impact.time == pytest.approx(truth[6] + offset, abs=0.034)


def test_a_swing_cut_off_by_another_shot_gives_way_to_a_whole_one():
    whole, first = player(3, View.FACE_ON, Handedness.RIGHT)
    other, second = player(2, View.FACE_ON, Handedness.RIGHT, beside=300.0)
    late = cut(second, other.position_times[3] + 0.05, np.inf)
    result = analyse(joined(first, late))
    assert result.positions[3].time == pytest.approx(whole.position_times[3], abs=0.05)


def test_moments_and_a_stop_that_was_asked_for_are_told_by_the_frames_of_the_film():
    _, first = player(1, View.FACE_ON, Handedness.RIGHT)
    _, second = clip(View.FACE_ON, fps=FPS, amounts=FaultAmounts(upper_body_drift=1.5))
    second = dataclasses.replace(second, points=second.points + 300.0, stop_at=3.5)
    start = cut(first, 0.0, 0.5)
    own = analyse(second)
    result = analyse(dataclasses.replace(joined(start, second), stop_at=3.5))
    border = len(start.times)
    assert result.stopped_at.frame == own.stopped_at.frame + border
    assert result.swings[0].first_frame == own.swings[0].first_frame + border
    shown = [
        (f.shows_most, g.shows_most) for f, g in zip(result.findings, own.findings, strict=True)
    ]
    shown = [pair for pair in shown if pair[1] is not None]
    assert shown
    assert all(a.frame == b.frame + border for a, b in shown)
    assert all(a.time == pytest.approx(b.time + border * FRAME) for a, b in shown)


@pytest.mark.parametrize("view", list(View))
@pytest.mark.parametrize("fps", [24.0, 60.0, 240.0])
def test_a_film_taken_in_one_go_has_no_cut(view, fps):
    for seed in range(5):
        _, recording = random_clip(seed, view, fps=fps)
        assert stretches(recording) == [slice(0, len(recording.times))]


def test_sides_exchanged_a_pan_and_a_player_lost_for_a_moment_are_no_cuts():
    _, recording = random_clip(4, View.FACE_ON, fps=30.0)
    points = recording.points
    size = body_height(points)
    whole = [slice(0, len(points))]
    later = (np.arange(len(points)) >= len(points) // 2)[:, None, None]
    panned = points + np.arange(len(points))[:, None, None] * 0.04 * size
    elsewhere = points.copy()
    elsewhere[30:33] += 2.0 * size
    for changed in (np.where(later, swap_sides(points), points), panned, elsewhere):
        assert stretches(dataclasses.replace(recording, points=changed)) == whole
    assert stretches(dataclasses.replace(recording, points=points + later * size)) != whole


def test_a_film_without_a_body_has_no_cut():
    nothing = np.full((20, N_POINTS, 2), np.nan)
    empty = SwingRecording(nothing, np.zeros((20, N_POINTS)), np.arange(20) / 30.0)
    assert analyse(empty).reason.code == "nobody_found"


def test_a_film_stored_at_three_times_its_rate_is_not_cut_where_it_goes_on():
    _, recording = player(13, View.DOWN_THE_LINE, Handedness.RIGHT)
    shown = np.arange(len(recording.times)) // 3 * 3
    thrice = dataclasses.replace(
        recording, points=recording.points[shown], confidence=recording.confidence[shown]
    )
    assert len(stretches(thrice)) == 1
    joined_there = thrice.points.copy()
    joined_there[39:] += 200.0
    assert len(stretches(dataclasses.replace(thrice, points=joined_there))) == 2


@pytest.mark.parametrize("view", list(View))
@pytest.mark.parametrize("beside", [0.25, 0.8])
def test_frames_in_which_somebody_else_is_followed_now_and_then_are_left_out(view, beside):
    _, recording = clip(view, fps=30.0)
    scale = body_height(recording.points)
    elsewhere = np.random.default_rng(4).random(len(recording.times)) < 0.15
    elsewhere[[0, -1]] = False
    elsewhere[1:] &= ~elsewhere[:-1]
    points = recording.points.copy()
    points[elsewhere] = points[0] + np.array([beside * scale, 0.0])
    (found,) = find_all_cuts([(points, recording.confidence, recording.times, scale)])
    assert found.shots == [slice(0, len(recording.times))]
    told = np.zeros(len(recording.times), dtype=bool)
    for frames in found.strayed:
        told[frames] = True
    assert np.array_equal(told, elsewhere)
    result = analyse(dataclasses.replace(recording, points=points))
    assert "player_left" in codes(result)
    assert result.swing_found


@pytest.mark.parametrize("first", ["forward", "back"])
@pytest.mark.parametrize("view", list(View))
def test_of_a_film_that_runs_back_the_way_forward_is_analysed(view, first):
    _, seen = player(1, view, Handedness.RIGHT)
    back = dataclasses.replace(seen, points=seen.points[::-1], confidence=seen.confidence[::-1])
    alone = analyse(seen)
    result = analyse(joined(seen, back) if first == "forward" else joined(back, seen))
    offset = 0.0 if first == "forward" else len(seen.times) * FRAME
    assert told_times(result) == pytest.approx(told_times(alone) + offset, nan_ok=True)
    assert [f.status for f in result.findings] == [f.status for f in alone.findings]
    told = next(remark for remark in result.quality.remarks if remark.code == "film_cut")
    assert "runs back" in told.text


@pytest.mark.parametrize("corner", [0.0, -1.0])
@pytest.mark.parametrize("view", list(View))
def test_joints_that_are_told_at_a_corner_where_they_were_not_seen_are_as_if_left_out(view, corner):
    _, seen = player(1, view, Handedness.RIGHT)
    lost = np.random.default_rng(1).random(seen.confidence.shape) < 0.05
    aside, left_out = (
        analyse(dataclasses.replace(seen, points=np.where(lost[..., None], place, seen.points)))
        for place in (corner, np.nan)
    )
    assert aside.swing_found
    assert told_times(aside) == pytest.approx(told_times(left_out), nan_ok=True)
    assert [f.status for f in aside.findings] == [f.status for f in left_out.findings]
