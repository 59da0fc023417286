from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from service.analysis.events.positions.both_say import placed_by_both
from service.analysis.events.positions.network import PositionEstimates
from service.analysis.events.positions.searches.scene import Found
from service.analysis.events.positions.telling import as_positions
from service.analysis.pose.points import Point
from service.analysis.types import Source, View

SCENE = SimpleNamespace(
    tracks=SimpleNamespace(times=np.arange(0.0, 2.0, 0.1)),
    swing=SimpleNamespace(low=15),
    points=np.zeros((20, len(Point), 2)),
    view=View.DOWN_THE_LINE,
    clubhead=None,
)
FACE_ON = SimpleNamespace(tracks=SCENE.tracks, view=View.FACE_ON, clubhead=None)


def found_at(times, uncertainty: float):
    """What is found of some positions, by number and time; nothing of the others."""
    return dict.fromkeys(range(1, 11)) | {k: Found(time, uncertainty) for k, time in times}


def times_of(found) -> np.ndarray:
    """Times of P1 to P10, NaN where not found."""
    return np.array([(found[k] or Found(np.nan, 0.0)).time for k in range(1, 11)])


@pytest.mark.parametrize(
    ("uncertainty", "source"),
    [(0.02, Source.OBSERVED), (0.59, Source.OBSERVED), (0.61, Source.INFERRED), (5.0, "inferred")],
)
def test_a_position_that_may_lie_anywhere_in_the_swing_does_not_count_as_observed(
    uncertainty: float, source: str
):
    found = dict.fromkeys(range(1, 11))
    found[1], found[4], found[7] = Found(0.3, 0.01), Found(1.1, uncertainty), Found(1.5, 0.01)
    told = as_positions(SCENE, found)[3]
    assert told.source == source
    assert told.uncertainty == uncertainty
    assert (told.reason is None) == (source == Source.OBSERVED)


@pytest.mark.parametrize(
    ("number", "told", "kept"),
    [(4, 1.2, 1.2), (4, 1.6, 1.1), (7, 1.51, 1.51), (3, 1.15, 0.9), (8, 1.45, 1.6), (8, 1.7, 1.7)],
)
def test_a_network_that_would_put_a_position_beyond_the_top_or_impact_is_not_believed(
    number: int, told: float, kept: float
):
    found = dict.fromkeys(range(1, 11))
    for k, time in ((1, 0.3), (3, 0.9), (4, 1.1), (7, 1.5), (8, 1.6)):
        found[k] = Found(time, 0.01, inferred=k == 8)  # P8 without a club, or none may be moved
    times = times_of(found)
    times[number - 1] = told
    moved = placed_by_both(found, PositionEstimates(times, np.full(10, 0.01)), 2.0, SCENE)
    wanted = 0.5 * (0.9 + kept) if number == 3 else kept  # both say where P3 is
    assert moved[number].time == pytest.approx(wanted)


@pytest.mark.parametrize(
    ("by_threshold", "by_network", "share"), [(0.01, 0.01, 1 / 5), (0.01, 0.03, 1 / 37)]
)
def test_of_network_and_thresholds_the_surer_has_more_say_where_an_arm_is_level(
    by_threshold: float, by_network: float, share: float
):
    # Of P9 the threshold is weighed as twice as sure as it is.
    found = found_at(((1, 0.3), (4, 1.1), (7, 1.5), (9, 1.7)), by_threshold)
    times = times_of(found)
    times[8] = 1.72
    moved = placed_by_both(found, PositionEstimates(times, np.full(10, by_network)), 2.0, SCENE)
    assert moved[9].time == pytest.approx(1.7 + 0.02 * share)


@pytest.mark.parametrize(
    ("by_threshold", "by_network", "share"), [(0.01, 0.01, 4 / 5), (0.01, 0.03, 4 / 13)]
)
def test_face_on_a_level_arm_coming_down_is_told_by_network_and_threshold(
    by_threshold: float, by_network: float, share: float
):
    # Of P5 the threshold is weighed as half as sure as it is.
    found = found_at(((1, 0.3), (4, 1.1), (5, 1.3), (7, 1.5)), by_threshold)
    times = times_of(found)
    times[4] = 1.32
    estimates = PositionEstimates(times, np.full(10, by_network))
    assert placed_by_both(found, estimates, 2.0, FACE_ON)[5].time == pytest.approx(
        1.3 + 0.02 * share
    )
    assert placed_by_both(found, estimates, 2.0, SCENE)[5].time == pytest.approx(1.32)


@pytest.mark.parametrize(
    ("by_threshold", "share"), [(0.02, 4 / 5), (0.04, 16 / 17)]
)  # weighed as twice as unsure
@pytest.mark.parametrize("scene", [FACE_ON, SCENE])
def test_without_a_club_hands_have_a_say_where_the_shaft_is_level_after_impact(
    scene: SimpleNamespace, by_threshold: float, share: float
):
    found = dict.fromkeys(range(1, 11))
    for k, time in ((1, 0.3), (4, 1.1), (6, 1.4), (7, 1.5), (8, 1.57), (9, 1.65)):
        found[k] = Found(time, by_threshold, inferred=k in {6, 8})
    times = times_of(found)
    times[[5, 7]] += 0.04
    estimates = PositionEstimates(times, np.full(10, 0.02))
    moved = placed_by_both(found, estimates, 2.0, scene)
    assert moved[8].time == pytest.approx(1.57 + 0.04 * share)
    assert moved[8].inferred
    assert moved[6].time == pytest.approx(1.44)  # of P6 the network alone tells


@pytest.mark.parametrize("number", [2, 6, 8])
@pytest.mark.parametrize("scene", [FACE_ON, SCENE])
@pytest.mark.parametrize(
    ("by_shaft", "by_network", "share"), [(0.007, 0.02, 49 / 1649), (0.4, 0.02, 100 / 101)]
)
def test_a_shaft_that_is_seen_is_believed_unless_it_is_less_sure_than_the_network(
    scene: SimpleNamespace, number: int, by_shaft: float, by_network: float, share: float
):
    found = found_at(((1, 0.3), (2, 0.6), (4, 1.1), (6, 1.4), (7, 1.5), (8, 1.57)), by_shaft)
    times = times_of(found)
    times[number - 1] += 0.04
    moved = placed_by_both(found, PositionEstimates(times, np.full(10, by_network)), 2.0, scene)[
        number
    ]
    assert moved.time == pytest.approx(found[number].time + 0.04 * share)
    assert moved.uncertainty == pytest.approx(share * by_network + (1.0 - share) * by_shaft)
    assert not moved.inferred


@pytest.mark.parametrize(
    ("number", "told"), [(2, 0.7), (2, 1.15), (2, 0.2), (6, 1.4), (6, 1.05), (8, 1.6), (8, 1.9)]
)
def test_a_shaft_that_is_not_seen_is_told_by_the_network_alone_where_arms_do_not_come_level(
    number: int, told: float
):
    # As in a half swing: the hands' height tells it from how high they are at P3, P5 and P9.
    found = found_at(((1, 0.3), (4, 1.1), (7, 1.5), (10, 1.8)), 0.01)
    times = np.array([(found[k] or Found(5.0, 0.0)).time for k in range(1, 11)])
    times[number - 1] = told
    by_network = PositionEstimates(times, np.full(10, 0.03))
    first, last = {2: (0.3, 1.1), 6: (1.1, 1.5), 8: (1.5, 1.8)}[number]
    between = first < told < last
    moved = placed_by_both(found, by_network, 1.5, FACE_ON)
    assert moved[number] == (Found(told, 0.03, inferred=True) if between else None)
    assert [moved[k] for k in (2, 3, 5, 6, 8, 9) if k != number] == [None] * 5

    club = np.zeros((20, 2))  # shows that the shaft never comes level
    seen = SimpleNamespace(tracks=SCENE.tracks, view=View.FACE_ON, clubhead=club)
    assert placed_by_both(found, by_network, 1.5, seen)[number] is None
    clipped = {**found, {2: 1, 6: 4, 8: 10}[number]: None}
    assert placed_by_both(clipped, by_network, 1.5, FACE_ON)[number] is None


@pytest.mark.parametrize("number", [1, 10])
def test_where_hands_leave_and_stop_both_say_unless_one_has_misread_it_but_not_down_the_line(
    number,
):
    found = found_at(((1, 0.3), (4, 1.1), (7, 1.5), (10, 1.8)), 0.02)
    placed = times_of(found)
    for off, scene, share in ((0.03, FACE_ON, 0.5), (0.03, SCENE, 1.0), (0.08, FACE_ON, 1.0)):
        times = placed.copy()
        times[number - 1] += off
        moved = placed_by_both(found, PositionEstimates(times, np.full(10, 0.02)), 2.0, scene)
        assert moved[number].time == pytest.approx(placed[number - 1] + share * off)


@pytest.mark.parametrize(
    ("by_network", "share"), [(0.07, 1.0), (0.1, 1 / 26), (0.2, 1 / 101)]
)  # of a swing of 2 s an error of 0.04 is allowed
def test_hands_that_leave_the_top_tell_where_a_pause_ends_when_the_network_is_unsure(
    by_network: float, share: float
):
    found = found_at(((1, 0.3), (4, 1.1), (7, 1.5)), 0.01)
    times = times_of(found)
    times[3] = 1.0
    moved = placed_by_both(found, PositionEstimates(times, np.full(10, by_network)), 2.0, FACE_ON)
    assert moved[4].time == pytest.approx(1.1 - 0.1 * share)
    spread = np.full(10, 0.09)
    far = placed_by_both(
        found, PositionEstimates(times - 0.35 * (times == 1.0), spread), 2.0, FACE_ON
    )
    assert far[4].time == pytest.approx(0.65)  # too far apart for one pause
