"""Cohen's kappa and the counts it comes from."""

from __future__ import annotations

import warnings

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from sklearn.metrics import cohen_kappa_score

from service.analysis.faults import CATALOGUE
from service.analysis.types import CoachVerdict, Grade, Status, View
from service.lessons.coach.agreement import Pair, agreement_of, cohen_kappa

CONFIRM, REJECT, UNSURE = CoachVerdict
FAULT = "long_backswing"


def tables(most: int) -> st.SearchStrategy[list[list[int]]]:
    def square(size: int) -> st.SearchStrategy[list[list[int]]]:
        row = st.lists(st.integers(0, 30), min_size=size, max_size=size)
        return st.lists(row, min_size=size, max_size=size)

    return st.integers(2, most).flatmap(square)


def pair(
    service: Status | None,
    coach: CoachVerdict,
    count: int = 1,
    *,
    fault: str = FAULT,
    view: View = View.FACE_ON,
    grades: tuple[Grade | None, Grade | None] = (None, None),
) -> Pair:
    return Pair(fault, view, service, grades[0], coach, grades[1], "1", count)


def test_kappa_is_what_comes_out_by_hand() -> None:
    # 50 pairs: 35 agree, 0.7. Margins 0.5 and 0.6 make 0.5 x 0.6 + 0.5 x 0.4 = 0.5 by chance, so
    # kappa is 0.2 / 0.5 = 0.4. With q = 0.6 the variance times n (1 - e)^2 = 12.5 is
    #   0.4 (1 - 1.1 q)^2 + 0.3 (1 - 0.9 q)^2          = 0.04624 + 0.06348
    # + q^2 (0.1 (0.6 + 0.5)^2 + 0.2 (0.4 + 0.5)^2)    = 0.36 x 0.283
    # - (0.4 - 0.5 q)^2                                = 0.01
    # = 0.2016, and its root over 12.5 is 0.127.
    kappa = cohen_kappa(np.array([[20.0, 5.0], [10.0, 15.0]]))
    assert kappa is not None
    assert kappa.value == pytest.approx(0.4)
    assert kappa.standard_error == pytest.approx((0.2016 / 12.5) ** 0.5)
    assert kappa.interval == pytest.approx((0.151, 0.649), abs=0.001)


@given(tables(4))
def test_kappa_is_that_of_a_library(rows: list[list[int]]) -> None:
    table = np.array(rows, dtype=float)
    assume(table.sum() > 0)
    kappa = cohen_kappa(table)
    ratings = [(i, j) for i, row in enumerate(rows) for j, n in enumerate(row) for _ in range(n)]
    first, second = zip(*ratings, strict=True)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        expected = cohen_kappa_score(first, second)
    if kappa is None:
        assert np.isnan(expected) or len({*first, *second}) == 1
    else:
        assert kappa.value == pytest.approx(expected, abs=1e-9)


@given(tables(4))
def test_the_standard_error_is_that_of_the_delta_method(rows: list[list[int]]) -> None:
    table = np.array(rows, dtype=float) + 1.0  # off the edges, where shares can't be varied
    shares, n = table / table.sum(), table.sum()

    def kappa_of(p: np.ndarray) -> float:
        p = p / p.sum()
        chance = p.sum(axis=1) @ p.sum(axis=0)
        return float((np.trace(p) - chance) / (1.0 - chance))

    step = 1e-6
    gradient = np.zeros_like(shares)
    for place in np.ndindex(shares.shape):
        up, down = shares.copy(), shares.copy()
        up[place] += step
        down[place] -= step
        gradient[place] = (kappa_of(up) - kappa_of(down)) / (2 * step)
    mean = np.sum(shares * gradient)
    variance = np.sum(shares * (gradient - mean) ** 2) / n
    kappa = cohen_kappa(table)
    assert kappa is not None
    assert kappa.standard_error == pytest.approx(variance**0.5, rel=1e-4, abs=1e-7)


def test_without_a_pair_or_with_one_answer_alone_there_is_no_kappa_and_a_reason() -> None:
    nothing = agreement_of([]).overall
    assert (nothing.kappa, nothing.agreed, nothing.decided) == (None, None, 0)
    assert nothing.reason is not None
    assert nothing.reason.code == "no_pairs"
    assert agreement_of([]).grades.reason == nothing.reason
    always = agreement_of([pair(Status.PRESENT, CONFIRM, 9)]).overall
    assert (always.kappa, always.agreed) == (None, 1.0)
    assert always.reason is not None
    assert always.reason.code == "one_category"


def test_full_agreement_has_no_interval_as_nothing_tells_how_far_it_is_off() -> None:
    counts = agreement_of([pair(Status.PRESENT, CONFIRM, 3), pair(Status.ABSENT, REJECT, 2)])
    kappa = counts.overall.kappa
    assert kappa is not None
    assert (kappa.value, kappa.interval) == (1.0, None)


def test_only_pairs_in_which_both_decided_count_and_the_unsure_stand_beside() -> None:
    told = agreement_of(
        [
            pair(Status.PRESENT, CONFIRM, 4),
            pair(Status.PRESENT, REJECT, 3),
            pair(Status.ABSENT, CONFIRM, 2),
            pair(Status.ABSENT, REJECT, 5),
            pair(Status.UNCERTAIN, CONFIRM, 6),
            pair(Status.NOT_ASSESSABLE, REJECT, 1),
            pair(None, REJECT, 1),
            pair(Status.PRESENT, UNSURE, 7),
        ]
    )
    counts = told.overall
    assert (counts.both, counts.service_only, counts.coach_only, counts.neither) == (4, 3, 2, 5)
    assert (counts.service_unsure, counts.coach_unsure, counts.decided) == (8, 7, 14)
    assert told.reviews == 29
    assert counts.agreed == pytest.approx(9 / 14)


def test_faults_views_and_grades_have_counts_of_their_own() -> None:
    mild, marked = Grade.MILD, Grade.MARKED
    told = agreement_of(
        [
            pair(Status.PRESENT, CONFIRM, 2, grades=(mild, mild)),
            pair(Status.PRESENT, CONFIRM, 1, grades=(mild, marked)),
            pair(Status.PRESENT, CONFIRM, 1, grades=(mild, None)),
            pair(Status.PRESENT, REJECT, 1, grades=(marked, None)),
            pair(Status.ABSENT, REJECT, 3, fault="handle_rise", view=View.DOWN_THE_LINE),
        ]
    )
    assert {fault: c.decided for fault, c in told.by_fault} == {FAULT: 5, "handle_rise": 3}
    assert {view: c.decided for view, c in told.by_view} == {
        View.FACE_ON: 5,
        View.DOWN_THE_LINE: 3,
    }
    assert told.grades.names == ("absent", "mild", "moderate", "marked")
    assert told.grades.table == ((3, 0, 0, 0), (0, 2, 0, 1), (0, 0, 0, 0), (1, 0, 0, 0))
    assert told.grades.kappa is not None
    assert told.grades.reason is None
    by_grade = dict(told.by_grade)
    assert (by_grade[mild].both, by_grade[mild].service_only, by_grade[mild].neither) == (2, 1, 4)
    assert (by_grade[marked].service_only, by_grade[marked].coach_only) == (1, 1)


def test_only_views_and_faults_that_were_reviewed_have_counts() -> None:
    pairs = [
        pair(Status.PRESENT, CONFIRM, 2),
        pair(Status.ABSENT, CONFIRM, 3, view=View.DOWN_THE_LINE),
        pair(Status.ABSENT, REJECT, 4, view=View.DOWN_THE_LINE, fault="handle_rise"),
    ]
    by_fault = [name for name, _ in agreement_of(pairs).by_fault]
    assert by_fault == [name for name in CATALOGUE if name in (FAULT, "handle_rise")]
    (view, counts) = next(iter(agreement_of(pairs[:1]).by_view))
    assert (view, counts) == (View.FACE_ON, agreement_of(pairs[:1]).overall)
    assert [view for view, _ in agreement_of(pairs[:1]).by_view] == [View.FACE_ON]
    assert [view for view, _ in agreement_of(pairs).by_view] == list(View)
