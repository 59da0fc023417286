"""How likely golf is, by what was seen and not by what was made up."""

import dataclasses

import pytest

from service.analysis.events.detection import LIKELY_GOLF
from service.analysis.events.golf_likeness import Fall, log_odds
from service.analysis.laid_out import LaidOut, lay_out
from service.analysis.pose.points import Point
from service.analysis.pose.stature import body_height
from service.analysis.types import View
from tests.swings import random_clip

WRISTS = [Point.LEAD_WRIST, Point.TRAIL_WRIST]


def odds(recording):
    laid = lay_out(recording)
    assert isinstance(laid, LaidOut)
    found = laid.downswing
    low = found.end if found.low is None else found.low
    return log_odds(
        laid.tracks, Fall(found.start, found.top, low, found.end, found.low is not None)
    )


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
