"""What changed between swings of one player, and whether the change can be told from noise."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final

from service.analysis.faults import CATALOGUE, MEASURES, Criterion, FaultDefinition
from service.analysis.measures.definition import Measure
from service.analysis.types import Level, Reason, Remark, Status, SwingAnalysis, View
from service.lessons.errors import DifferentViews, NoSwingFound, TooFewSwings
from service.lessons.estimates import (
    Estimate,
    pool,
    smallest_detectable_change,
    spread_between_swings,
    unwrapped,
)
from service.lessons.swings import (
    SPEED_MEASURES,
    PooledFinding,
    measurement,
    pool_findings,
    values_of,
)


class Verdict(StrEnum):
    """What became of a measure or a fault.

    ``BETTER`` and ``WORSE`` are away from and toward a fault. ``CHANGED`` is a change
    that no fault has a say in: a measure that belongs to none, or that stays clearly on
    the sound side of its threshold.
    """

    BETTER = "better"
    WORSE = "worse"
    CHANGED = "changed"
    NO_DETECTABLE_CHANGE = "no_detectable_change"
    NOT_COMPARABLE = "not_comparable"


@dataclass(frozen=True)
class MeasureChange:
    """One measure before and after.

    ``change`` is after minus before and ``smallest_detectable`` the size from which it
    counts, both in ``unit``. They and the estimates are ``None`` exactly when the
    verdict is ``NOT_COMPARABLE``, and then ``reason`` says why. ``fault`` is the fault
    in this view that the measure speaks for.
    """

    name: str
    title: str
    unit: str
    at: str
    verdict: Verdict
    fault: str | None = None
    before: Estimate | None = None
    after: Estimate | None = None
    change: float | None = None
    smallest_detectable: float | None = None
    reason: Reason | None = None


@dataclass(frozen=True)
class FaultChange:
    """One fault before and after, with the measures it is judged by, the leading one first.

    ``reason`` says why it is not comparable, or why a status that differs is still no
    detectable change.
    """

    fault: str
    title: str
    verdict: Verdict
    before: PooledFinding
    after: PooledFinding
    measures: tuple[MeasureChange, ...] = ()
    reason: Reason | None = None

    @property
    def was_found(self) -> bool:
        """Whether any swing of either side shows the fault."""
        return bool(self.before.present or self.after.present)

    @property
    def tells(self) -> bool:
        """Whether it is worth telling a player: found on either side, and comparable."""
        return self.was_found and self.verdict is not Verdict.NOT_COMPARABLE


@dataclass(frozen=True)
class Comparison:
    """Two sets of swings of one player, measure by measure and fault by fault.

    ``remarks`` say what else than the player's swing differs.
    """

    view: View
    measures: tuple[MeasureChange, ...]
    faults: tuple[FaultChange, ...]
    remarks: tuple[Remark, ...] = ()


def compare(before: Sequence[SwingAnalysis], after: Sequence[SwingAnalysis]) -> Comparison:
    """Compare swings of one player: before and after, or one against a reference.

    A change counts when it exceeds the smallest detectable change
    (:func:`~service.lessons.estimates.smallest_detectable_change`). With one swing a
    side that knows only how well each was measured, so it says that these two swings
    differ; with three or more on a side the player's spread from swing to swing is told
    from them and added, so it says that the player's swing differs. Values are taken by
    position, so neither frame rate nor speed matters; what does depend on speed is not
    comparable between a rehearsal and full speed.

    Raises
    ------
    TooFewSwings
        If a side is empty.
    NoSwingFound
        If a clip holds no swing.
    DifferentViews
        If not all were filmed from the same view.
    """
    if not before or not after:
        raise TooFewSwings("A comparison takes at least one swing before and one after.")
    view = shared_view((*before, *after))
    measures = {m.name: _compare_measure(m, view, before, after) for m in MEASURES}
    faults = tuple(_compare_fault(d, view, measures, before, after) for d in CATALOGUE.values())
    return Comparison(view, tuple(measures.values()), faults, _different_clubs(before, after))


def _different_clubs(
    before: Sequence[SwingAnalysis], after: Sequence[SwingAnalysis]
) -> tuple[Remark, ...]:
    """A longer club is swung flatter, from a wider stance and farther from the body."""
    clubs = [sorted({s.club for s in side if s.club}) for side in (before, after)]
    if not all(clubs) or frozenset.intersection(*(c.kinds for side in clubs for c in side)):
        return ()
    first, second = (" and ".join(c.replace("_", " ") for c in side) for side in clubs)
    return (
        Remark(
            "clubs_differ",
            Level.WARNING,
            f"The clubs are not of one kind: {first} before, {second} after. Posture, plane and "
            "length of the swing differ with the club, so a change may be the club's.",
            "Compare swings with the same kind of club.",
        ),
    )


def shared_view(swings: Sequence[SwingAnalysis]) -> View:
    """The view all swings were filmed from; raises as :func:`compare` does."""
    views = set()
    for swing in swings:
        if swing.view is None:
            why = swing.reason
            raise NoSwingFound(why.text if why else "A clip holds no golf swing.")
        views.add(swing.view.value)
    if len(views) > 1:
        raise DifferentViews(
            "The clips were filmed from different views; compare face on with face on and "
            "down the line with down the line."
        )
    return views.pop()


def _compare_measure(
    measure: Measure, view: View, before: Sequence[SwingAnalysis], after: Sequence[SwingAnalysis]
) -> MeasureChange:
    found = _criterion_of(measure, view)
    blank = MeasureChange(
        measure.name,
        measure.title,
        measure.unit,
        measure.at,
        Verdict.NOT_COMPARABLE,
        fault=found[0].name if found else None,
    )
    earlier, later = values_of(measure.name, before), values_of(measure.name, after)
    if measure.name in SPEED_MEASURES and len({s.intent for s in (*before, *after)}) > 1:
        return replace(blank, reason=_DIFFERENT_SPEED)
    if earlier is None or later is None:
        return replace(blank, reason=_why_missing(measure.name, before, after))
    earlier, later = unwrapped((earlier, later), measure.unit)
    spread = spread_between_swings((earlier, later))
    first, second = pool(earlier, spread), pool(later, spread)
    change = second.value - first.value
    smallest = smallest_detectable_change(earlier, later, spread)
    return replace(
        blank,
        verdict=_verdict(change, smallest, found[1] if found else None, (first, second)),
        before=first,
        after=second,
        change=change,
        smallest_detectable=smallest,
    )


def _criterion_of(measure: Measure, view: View) -> tuple[FaultDefinition, Criterion] | None:
    return next(
        (
            (definition, criterion)
            for definition in CATALOGUE.values()
            for criterion in definition.criteria.get(view, ())
            if criterion.measure.name == measure.name
        ),
        None,
    )


def _why_missing(
    measure: str, before: Sequence[SwingAnalysis], after: Sequence[SwingAnalysis]
) -> Reason:
    """Why a side has no value of a measure."""
    side, swings = ("Before", before) if values_of(measure, before) is None else ("After", after)
    taken = (measurement(s, measure) for s in swings)
    why = next((t.reason for t in taken if t and t.reason), _NOT_MEASURED)
    return Reason(why.code, f"{side}: {why.text}")


def _verdict(
    change: float, smallest: float, criterion: Criterion | None, sides: Sequence[Estimate]
) -> Verdict:
    if abs(change) <= smallest:
        return Verdict.NO_DETECTABLE_CHANGE
    if criterion is None:
        return Verdict.CHANGED
    before, after = (criterion.excess(estimate.value) for estimate in sides)
    # Up to the grey zone coaches would differ; beyond it no one sees the fault.
    if max(before, after) < -criterion.grey:
        return Verdict.CHANGED
    return Verdict.WORSE if after > before else Verdict.BETTER


def _compare_fault(
    definition: FaultDefinition,
    view: View,
    measures: Mapping[str, MeasureChange],
    before: Sequence[SwingAnalysis],
    after: Sequence[SwingAnalysis],
) -> FaultChange:
    changes = tuple(measures[c.measure.name] for c in definition.criteria.get(view, ()))
    sides = pool_findings(before, definition.name), pool_findings(after, definition.name)
    verdict, reason = _fault_verdict(changes, *sides)
    return FaultChange(definition.name, definition.title, verdict, *sides, changes, reason)


def _fault_verdict(
    changes: Sequence[MeasureChange], before: PooledFinding, after: PooledFinding
) -> tuple[Verdict, Reason | None]:
    """The first measure with a say decides; a fault absent on both sides has not changed.

    Where a coach sees it otherwise than the measures, they have no say.
    """
    if before.coachs_own or after.coachs_own:
        return Verdict.NOT_COMPARABLE, COACHS_VIEW
    for name, side in (("Before", before), ("After", after)):
        if side.status is Status.NOT_ASSESSABLE and side.reason is not None:
            return Verdict.NOT_COMPARABLE, Reason(side.reason.code, f"{name}: {side.reason.text}")
    missing = next((c.reason for c in changes if c.reason is not None), None)
    if missing is not None:
        return Verdict.NOT_COMPARABLE, missing
    if before.status is after.status is Status.ABSENT:
        return Verdict.NO_DETECTABLE_CHANGE, None
    told = next((c.verdict for c in changes if c.verdict in _TOLD), Verdict.NO_DETECTABLE_CHANGE)
    if told is Verdict.NO_DETECTABLE_CHANGE and before.status is not after.status:
        return told, _WITHIN_UNCERTAINTY
    return told, None


_TOLD: Final = (Verdict.BETTER, Verdict.WORSE)
_DIFFERENT_SPEED: Final = Reason(
    "different_speed", "A slow rehearsal changes this by being slow; compare like with like."
)
COACHS_VIEW: Final = Reason(
    "coachs_view",
    "A coach sees it otherwise than the measures say, so that they can't tell what became of it.",
)
_NOT_MEASURED: Final = Reason("not_measured", "This was not measured in these swings.")
_WITHIN_UNCERTAINTY: Final = Reason(
    "within_uncertainty",
    "The fault is found in one and not in the other, but the difference is no larger than what "
    "the measurement alone could make.",
)
