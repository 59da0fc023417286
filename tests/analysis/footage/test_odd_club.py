"""Club points that are not at the hands are told and left out."""

import dataclasses

import numpy as np
import pytest

from service.analysis.analyse import analyse
from service.analysis.pose.points import Point
from service.analysis.types import View
from tests.analysis.footage.odd import codes, filmed, told
from tests.swings import CLUB, without


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
