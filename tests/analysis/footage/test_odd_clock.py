"""A film whose clock is no real one is told, and no tempo is judged by it."""

import dataclasses

import numpy as np
import pytest

from service.analysis.analyse import analyse
from service.analysis.footage.clock import uneven_frames
from service.analysis.pose.points import Point
from service.analysis.types import Intent, Position, Source, Status, View
from tests.analysis.footage.odd import codes, filmed, not_judged
from tests.swings import clip, finding, paced
from training.simulator import FaultAmounts


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
