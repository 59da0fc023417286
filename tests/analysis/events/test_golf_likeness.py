"""How likely golf is, by what was seen and not by what was made up."""

import dataclasses

import numpy as np
import pytest

from service.analysis.events.detection import LIKELY_GOLF
from service.analysis.events.golf_likeness import Fall, log_odds
from service.analysis.events.landmark_paths import SURE
from service.analysis.laid_out import LaidOut, lay_out
from service.analysis.pose.points import Point
from service.analysis.pose.stature import body_height
from service.analysis.types import View
from tests.swings import random_clip

WRISTS = [Point.LEAD_WRIST, Point.TRAIL_WRIST]


def paths_and_fall(recording):
    """The paths of a swing that is found, and the fall of the hands in it."""
    laid = lay_out(recording)
    assert isinstance(laid, LaidOut)
    found = laid.downswing
    low = found.end if found.low is None else found.low
    return laid.tracks, Fall(found.start, found.top, low, found.end, found.low is not None)


def odds(recording):
    return log_odds(*paths_and_fall(recording))


@pytest.mark.parametrize("view", list(View))
def test_two_wrists_on_one_place_say_less_for_golf_than_two_near_one_another(view):
    for seed in range(4):
        _, seen = random_clip(seed, view, fps=60.0)
        together = seen.points.copy()
        together[:, WRISTS] = together[:, WRISTS].mean(axis=1, keepdims=True)
        near = together.copy()
        near[:, Point.LEAD_WRIST, 0] += 0.01 * body_height(together)
        on_one_place, beside = (
            odds(dataclasses.replace(seen, points=points)) for points in (together, near)
        )
        assert LIKELY_GOLF < on_one_place < beside - 0.5


@pytest.mark.parametrize("view", list(View))
def test_hands_that_come_down_more_slowly_than_they_go_up_say_less_for_golf(view):
    for seed in range(4):
        _, seen = random_clip(seed, view, fps=60.0)
        tracks, fall = paths_and_fall(seen)
        twice, long = (
            dataclasses.replace(tracks, times=slowed(seen.times, fall, by)) for by in (2, 30)
        )
        assert log_odds(twice, fall) == pytest.approx(log_odds(tracks, fall))
        assert log_odds(long, fall) < log_odds(tracks, fall) - 1.0


def slowed(times, fall, by):
    """The clock of a film that shows a fall so many times slower."""
    step = np.diff(times, prepend=times[0])
    step[fall.top + 1 : fall.low + 1] *= by
    return np.cumsum(step)


@pytest.mark.parametrize("view", list(View))
def test_wrists_of_which_one_is_never_surely_seen_say_less_for_golf(view):
    for seed in range(4):
        _, seen = random_clip(seed, view, fps=60.0)
        unsure = seen.confidence.copy()
        unsure[:, WRISTS] = np.minimum(unsure[:, WRISTS], SURE - 0.01)
        assert LIKELY_GOLF < odds(dataclasses.replace(seen, confidence=unsure)) < odds(seen) + 1e-9


@pytest.mark.parametrize("view", list(View))
def test_an_arm_laid_on_the_other_says_nothing_for_hands_on_one_handle(view):
    for seed in range(4):
        _, seen = random_clip(seed, view, fps=60.0)
        tracks, fall = paths_and_fall(seen)
        about_the_top = np.zeros(len(seen.times), dtype=bool)
        about_the_top[(fall.start + fall.top) // 2 : fall.top + 3] = True
        far = np.full(len(seen.times), 0.25)
        apart, on_one_another, near = (
            dataclasses.replace(tracks, hands_apart=by, wrists_apart=by, elbows_apart=by)
            for by in (far, np.where(about_the_top, 0.02, far), np.where(about_the_top, 0.06, far))
        )
        told = log_odds(on_one_another, fall)
        assert told == pytest.approx(log_odds(apart, fall))
        assert told < log_odds(near, fall) - 0.5
