from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binomtest

from service.analysis.analyse import analyse
from service.analysis.faults import CATALOGUE
from service.lessons.not_judged import NOT_TOLD, WHY
from service.lessons.rates import Counts, wilson_interval
from service.lessons.words.filming import film_for
from tests.swings import clip


@given(st.integers(1, 10**6), st.floats(0, 1))
def test_the_interval_is_that_of_the_library(swings: int, share: float) -> None:
    present = round(share * swings)
    expected = binomtest(present, swings).proportion_ci(method="wilson")
    assert wilson_interval(present, swings) == pytest.approx(
        (expected.low, expected.high), abs=1e-9
    )


@pytest.mark.parametrize(("present", "swings"), [(0, 0), (1, 0), (-1, 5), (6, 5)])
def test_what_is_no_rate_has_no_interval(present: int, swings: int) -> None:
    with pytest.raises(ValueError, match="is no rate"):
        wilson_interval(present, swings)


def counted() -> Counts:
    counts = Counts()
    counts.add_clips("driver", True, 8)
    counts.add_clips("driver", False, 2)
    counts.add_clips(None, True, 1)
    counts.add_clips("wedge", True, 3)
    counts.add_findings("driver", "chest_stall", "present", None, 2)
    counts.add_findings("driver", "chest_stall", "absent", None, 3)
    counts.add_findings("driver", "chest_stall", "uncertain", None, 1)
    counts.add_findings("driver", "chest_stall", "not_assessable", "view", 1)
    counts.add_findings("driver", "chest_stall", "not_assessable", None, 1)
    counts.add_findings("wedge", "chest_stall", "absent", None, 3)
    counts.add_findings("wedge", "of_another_version", "present", None, 1)
    return counts


def test_a_rate_goes_by_what_was_decided_and_tells_the_rest_beside_it() -> None:
    summary = counted().summary("club", 10)
    rate = summary.groups[0].rates[0]
    assert (rate.present, rate.decided, rate.uncertain, rate.not_assessable) == (2, 5, 1, 2)
    assert rate.rate == 0.4
    assert rate.unjudged == 0.25
    assert rate.reasons == {"view": 1, NOT_TOLD: 1}


def test_the_total_holds_every_group_also_those_left_out() -> None:
    summary = counted().summary("club", 1)
    assert [group.name for group in summary.groups] == ["driver"]
    assert summary.left_out == 2
    assert (summary.total.swings, summary.total.no_swing) == (12, 2)
    total = summary.total.rates[0]
    assert (total.fault, total.present, total.absent) == ("chest_stall", 2, 6)


def test_the_largest_group_comes_first_and_those_that_do_not_tell_are_one() -> None:
    assert [g.name for g in counted().summary("club", 10).groups] == ["driver", "wedge", None]


def test_of_groups_of_one_size_those_that_do_not_tell_come_last() -> None:
    counts = Counts()
    for club in (None, "wedge", "driver"):
        counts.add_clips(club, True, 2)
    assert [g.name for g in counts.summary("club", 10).groups] == ["driver", "wedge", None]


def test_groups_that_are_numbers_come_in_their_order() -> None:
    counts = Counts()
    for year, swings in (("2024", 3), ("999", 2), (None, 9), ("2019", 1)):
        counts.add_clips(year, True, swings)
    assert [g.name for g in counts.summary("year", 10).groups] == ["999", "2019", "2024", None]


def test_groups_that_are_numbers_with_decimals_come_in_their_order_too() -> None:
    counts = Counts()
    for handicap, swings in (("10.5", 3), ("-1.5", 2), ("3.5", 2), (None, 9)):
        counts.add_clips(handicap, True, swings)
    told = [g.name for g in counts.summary("handicap", 10).groups]
    assert told == ["-1.5", "3.5", "10.5", None]


def test_a_fault_that_the_catalogue_no_longer_has_comes_last_under_its_name() -> None:
    rates = counted().summary(None, 10).total.rates
    assert "of_another_version" not in CATALOGUE
    assert rates[-1].title == "of_another_version"


def test_every_reason_comes_with_what_to_film() -> None:
    assert all(words and advice.endswith(".") for words, advice in WHY.values())


def test_a_tempo_that_lacks_its_address_asks_for_a_player_who_stands_still() -> None:
    _, recording = clip(lead_in=0.0)
    tempo = next(f for f in analyse(recording).findings if f.fault == "hurried_transition")
    assert tempo.reason is not None
    assert tempo.reason.code == "position_inferred"
    assert film_for(tempo.reason) == "Begin with the player standing still."
