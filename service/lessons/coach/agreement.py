"""How far service and coaches agree.

References
----------
[cohen1960], [fleiss1969]
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import sqrt
from typing import Final

import numpy as np

from service.analysis.faults import CATALOGUE
from service.analysis.types import CoachVerdict, FloatArray, Grade, Reason, Status, View
from service.lessons.estimates import NORMAL_95

_TINY: Final[float] = 1e-12
_ABSENT: Final[str] = "absent"
_NAMES: Final[tuple[str, ...]] = (_ABSENT, *(grade.value for grade in Grade))
_NO_PAIRS: Final = Reason("no_pairs", "There is no pair in which service and coach both decided.")
_ONE_CATEGORY: Final = Reason(
    "one_category",
    "Service and coach both say one and the same every time, so that chance alone would make "
    "them agree.",
)


@dataclass(frozen=True)
class Pair:
    """What service and coach say of a fault in a swing, and how often that is so.

    ``service`` is ``None`` where the analysis has no finding about the fault. ``coach_grade`` is
    ``None`` where the coach gave none. ``model`` made the analysis, ``None`` where rules did.
    """

    fault: str
    view: View | None
    service: Status | None
    service_grade: Grade | None
    coach: CoachVerdict
    coach_grade: Grade | None
    model: str | None = None
    count: int = 1


@dataclass(frozen=True)
class Kappa:
    """Cohen's kappa with its large-sample standard error and 95 % interval.

    ``interval`` is ``None`` where the standard error is 0, as with no disagreement at all: so
    few pairs, or so alike ones, don't tell how far it could be off.
    """

    value: float
    standard_error: float
    interval: tuple[float, float] | None


@dataclass(frozen=True)
class Counts:
    """Pairs in which both decided, by who says that it is there, and beside them the others.

    ``kappa`` is ``None`` exactly when ``reason`` is given.
    """

    both: int
    service_only: int
    coach_only: int
    neither: int
    service_unsure: int
    coach_unsure: int
    kappa: Kappa | None
    reason: Reason | None

    @property
    def decided(self) -> int:
        """Pairs in which both decided."""
        return self.both + self.service_only + self.coach_only + self.neither

    @property
    def agreed(self) -> float | None:
        """Share of them in which both say the same; ``None`` without any."""
        return (self.both + self.neither) / self.decided if self.decided else None


@dataclass(frozen=True)
class GradeTable:
    """Grades against grades, ``absent`` among them, where both gave one.

    ``table`` has the service's names in rows and the coach's in columns, in the order of
    ``names``.
    """

    names: tuple[str, ...]
    table: tuple[tuple[int, ...], ...]
    kappa: Kappa | None
    reason: Reason | None


@dataclass(frozen=True)
class Agreement:
    """Agreement overall and by fault, view and grade.

    A grade's counts say "there" of those that were given this very grade, over all pairs that
    have one from both or are absent to one or both.
    """

    reviews: int
    models: tuple[tuple[str | None, int], ...]
    overall: Counts
    by_fault: tuple[tuple[str, Counts], ...]
    by_view: tuple[tuple[View, Counts], ...]
    by_grade: tuple[tuple[Grade, Counts], ...]
    grades: GradeTable


def agreement_of(pairs: Iterable[Pair]) -> Agreement:
    """Count pairs of one review each; a fault and a view have counts where they have reviews."""
    all_pairs = list(pairs)
    faults = [name for name in CATALOGUE if any(p.fault == name for p in all_pairs)]
    views = [view for view in View if any(p.view is view for p in all_pairs)]
    models: dict[str | None, int] = {}
    for pair in all_pairs:
        models[pair.model] = models.get(pair.model, 0) + pair.count
    table = _grade_table(all_pairs)
    return Agreement(
        reviews=sum(p.count for p in all_pairs),
        models=tuple(sorted(models.items(), key=lambda each: each[0] or "")),
        overall=_counts(all_pairs),
        by_fault=tuple((f, _counts([p for p in all_pairs if p.fault == f])) for f in faults),
        by_view=tuple((v, _counts([p for p in all_pairs if p.view is v])) for v in views),
        by_grade=tuple((grade, _one_against_rest(table, grade)) for grade in Grade),
        grades=_graded(table),
    )


def cohen_kappa(table: FloatArray) -> Kappa | None:
    """Cohen's kappa of a square table of counts, ``None`` where chance alone makes full agreement.

    With p the shares of the table, r and c its margins, agreement by chance is
    ``e = sum(r_i c_i)`` and ``kappa = (sum(p_ii) - e) / (1 - e)`` [cohen1960]. The standard error
    is that for a kappa other than zero [fleiss1969], equation 13 there (number from memory): with
    ``q = 1 - kappa`` the variance is ::

        (sum p_ii (1 - (r_i + c_i) q)^2 + q^2 sum_(i != j) p_ij (c_i + r_j)^2
            - (kappa - e q)^2) / (n (1 - e)^2)

    Parameters
    ----------
    table : array of shape (k, k)
        Counts, one rater's categories in rows and the other's in columns.

    >>> kappa = cohen_kappa(np.array([[20.0, 5.0], [10.0, 15.0]]))
    >>> round(kappa.value, 3), round(kappa.standard_error, 3)
    (0.4, 0.127)
    """
    n = float(table.sum())
    if n == 0.0:
        return None
    p = table / n
    r, c = p.sum(axis=1), p.sum(axis=0)
    e = float(r @ c)
    if e >= 1.0 - _TINY:
        return None
    kappa = (float(np.trace(p)) - e) / (1.0 - e)
    q = 1.0 - kappa
    same = float(np.sum(np.diag(p) * (1.0 - (r + c) * q) ** 2))
    cross = p * (c[:, None] + r[None, :]) ** 2
    other = q**2 * float(cross.sum() - np.trace(cross))
    variance = (same + other - (kappa - e * q) ** 2) / (n * (1.0 - e) ** 2)
    error = sqrt(max(variance, 0.0))
    return Kappa(kappa, error, _interval(kappa, error))


def _interval(kappa: float, error: float) -> tuple[float, float] | None:
    if error < _TINY:
        return None
    reach = NORMAL_95 * error
    return max(-1.0, kappa - reach), min(1.0, kappa + reach)


def _counts(pairs: Sequence[Pair]) -> Counts:
    table = np.zeros((2, 2))
    service_unsure = coach_unsure = 0
    for pair in pairs:
        if pair.coach is CoachVerdict.UNSURE:
            coach_unsure += pair.count
        elif pair.service is None or not pair.service.is_decided:
            service_unsure += pair.count
        else:
            row = int(pair.service is Status.ABSENT)
            table[row, int(pair.coach is CoachVerdict.REJECT)] += pair.count
    return _with_kappa(table, service_unsure, coach_unsure)


def _with_kappa(table: FloatArray, service_unsure: int = 0, coach_unsure: int = 0) -> Counts:
    kappa = cohen_kappa(table)
    both, service_only, coach_only, neither = (int(n) for n in table.ravel())
    return Counts(
        both,
        service_only,
        coach_only,
        neither,
        service_unsure,
        coach_unsure,
        kappa,
        _why_none(table) if kappa is None else None,
    )


def _why_none(table: FloatArray) -> Reason:
    return _ONE_CATEGORY if table.sum() else _NO_PAIRS


def _grade_table(pairs: Sequence[Pair]) -> FloatArray:
    table = np.zeros((len(_NAMES), len(_NAMES)))
    for pair in pairs:
        service = _name(pair.service, Status.PRESENT, Status.ABSENT, pair.service_grade)
        coach = _name(pair.coach, CoachVerdict.CONFIRM, CoachVerdict.REJECT, pair.coach_grade)
        if service is not None and coach is not None:
            table[_NAMES.index(service), _NAMES.index(coach)] += pair.count
    return table


def _name(said: object, there: object, not_there: object, grade: Grade | None) -> str | None:
    if said is not_there:
        return _ABSENT
    return grade.value if said is there and grade is not None else None


def _one_against_rest(table: FloatArray, grade: Grade) -> Counts:
    here = _NAMES.index(grade.value)
    both = table[here, here]
    service, coach = table[here].sum() - both, table[:, here].sum() - both
    rest = table.sum() - both - service - coach
    return _with_kappa(np.array([[both, service], [coach, rest]]))


def _graded(table: FloatArray) -> GradeTable:
    kappa = cohen_kappa(table)
    rows = tuple(tuple(int(n) for n in row) for row in table)
    return GradeTable(_NAMES, rows, kappa, _why_none(table) if kappa is None else None)
