"""From rows to figures."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.stats import median_abs_deviation, rankdata

from service.analysis.faults import CATALOGUE
from service.analysis.types import FloatArray, Status
from training.data.dataset import FAULT_NAMES
from training.evaluation.sources.rows import Row, Value, Verdict

_WITHIN_SECONDS: Final[float] = 0.033
"""Of a position at full speed: a frame at 30 frames a second."""
_WITHIN_SHARE: Final[float] = 0.02
"""Of a position in a rehearsal, of the swing's length."""
_SURE: Final[float] = 0.95
"""Confidence from which a verdict counts as sure."""
_UNCERTAINTIES: Final[float] = 2.0
"""Within which an error counts as covered."""
GREY: Final[dict[str, float]] = {
    c.measure.name: c.grey for d in CATALOGUE.values() for cs in d.criteria.values() for c in cs
}
"""Half-width of the grey zone of each measure; of its last criterion where several go by it."""


@dataclass(frozen=True)
class VerdictTally:
    """What verdicts are worth; shares NaN where there is nothing to share.

    ``wrong`` counts decided verdicts by the threshold alone, ``wrong_clear`` only those whose
    truth lies outside the grey zone. ``recall`` is of the truly present, where assessable,
    outside the grey zone in ``recall_clear``. Of all that are truly present outside it,
    ``there_clear``, the share ``told_clear`` is assessable; of the ``marked`` that the footage
    shows, the share ``told_marked`` is told as present. ``alarms`` are present where truly
    absent, per clean swing.
    """

    decided: int
    wrong: float
    decided_clear: int
    wrong_clear: float
    present: int
    recall: float
    recall_clear: float
    there_clear: int
    told_clear: float
    marked: int
    told_marked: float
    clean: int
    alarms: float
    sure: int
    sure_right: float
    against: int
    auroc: float
    assessable: float


@dataclass(frozen=True)
class MeasureTally:
    """How one measure agrees with the truth; ``grey`` NaN where no fault is judged by it."""

    measure: str
    n: int
    coverage: float
    bias: float
    spread: float
    stated: float
    grey: float


@dataclass(frozen=True)
class Tally:
    """All figures of some rows.

    ``placed`` holds, by grade of footage, the share of P1 to P10 within 33 ms at full speed and,
    as ``rehearsal``, within 2 % of the swing's length; ``late`` the median seconds by which they
    are late.
    """

    clips: int
    found: float
    verdicts: VerdictTally
    faults: dict[str, VerdictTally]
    measures: tuple[MeasureTally, ...]
    placed: dict[str, FloatArray]
    late: dict[str, FloatArray]


def tally(rows: Sequence[Row]) -> Tally:
    """Figures of some rows."""
    found = [r for r in rows if r.found]
    clean = sum(r.clean for r in found)
    verdicts = [(r, v) for r in found for v in r.verdicts]
    names = sorted({v.measure for r in found for v in r.values})
    groups = {
        "club": [r for r in found if not r.rehearsal and r.grade == "club"],
        "phone": [r for r in found if not r.rehearsal and r.grade == "phone"],
        "other": [r for r in found if not r.rehearsal and r.grade == "other"],
        "rehearsal": [r for r in found if r.rehearsal],
    }
    return Tally(
        clips=len(rows),
        found=_share(r.found for r in rows),
        verdicts=tally_verdicts(verdicts, clean),
        faults={
            fault: tally_verdicts([(r, v) for r, v in verdicts if v.fault == fault], clean)
            for fault in FAULT_NAMES
            if any(v.fault == fault for _, v in verdicts)
        },
        measures=tuple(
            _tally_measure(name, [v for r in found for v in r.values if v.measure == name])
            for name in names
        ),
        placed={name: _placed(group) for name, group in groups.items() if group},
        late={name: _late(group) for name, group in groups.items() if group},
    )


def tally_verdicts(verdicts: Sequence[tuple[Row, Verdict]], clean: int) -> VerdictTally:
    """Figures of some verdicts, each with its row, of which ``clean`` are clean swings."""
    told = [v for _, v in verdicts if v.status is not Status.NOT_ASSESSABLE]
    decided = [v for v in told if v.decided]
    clear = [v for v in decided if abs(v.margin) >= 1.0]
    there = [v for v in told if v.margin > 0.0]
    marked = [v for v in told if v.margin >= 1.0]
    there_clear = [v for _, v in verdicts if v.margin >= 1.0]
    great = [v for _, v in verdicts if v.marked and v.shown]
    sure = [v for v in decided if v.confidence >= _SURE]
    alarms = sum(v.status is Status.PRESENT and v.margin < 0.0 for row, v in verdicts if row.clean)
    return VerdictTally(
        decided=len(decided),
        wrong=_share(v.wrong for v in decided),
        decided_clear=len(clear),
        wrong_clear=_share(v.wrong for v in clear),
        present=len(there),
        recall=_share(v.status is Status.PRESENT for v in there),
        recall_clear=_share(v.status is Status.PRESENT for v in marked),
        there_clear=len(there_clear),
        told_clear=_share(v.status is not Status.NOT_ASSESSABLE for v in there_clear),
        marked=len(great),
        told_marked=_share(v.status is Status.PRESENT for v in great),
        clean=clean,
        alarms=alarms / clean if clean else np.nan,
        sure=len(sure),
        sure_right=_share(not v.wrong for v in sure),
        against=sum(v.against for v in decided),
        auroc=_auroc(
            np.array([v.chance for v in told]), np.array([v.margin > 0.0 for v in told], dtype=bool)
        ),
        assessable=_share(v.status is not Status.NOT_ASSESSABLE for _, v in verdicts),
    )


def _tally_measure(name: str, values: Sequence[Value]) -> MeasureTally:
    off = np.array([v.off for v in values])
    stated = np.array([v.uncertainty for v in values])
    middle = float(np.median(off))
    return MeasureTally(
        measure=name,
        n=len(values),
        coverage=float(np.mean(np.abs(off) <= _UNCERTAINTIES * stated)),
        bias=middle,
        spread=float(median_abs_deviation(off, scale="normal")),
        stated=float(np.median(stated)),
        grey=GREY.get(name, np.nan),
    )


def _placed(rows: Sequence[Row]) -> FloatArray:
    late = np.abs([r.late for r in rows])
    allowed = [_WITHIN_SHARE * r.length if r.rehearsal else _WITHIN_SECONDS for r in rows]
    hit = np.nan_to_num(late, nan=np.inf) <= np.array(allowed)[:, None]
    reached = np.array([r.reached for r in rows])
    with np.errstate(invalid="ignore"):
        return np.asarray((hit * reached).sum(axis=0) / reached.sum(axis=0))


def _late(rows: Sequence[Row]) -> FloatArray:
    late = np.array([r.late for r in rows])
    seen = np.isfinite(late)
    return np.array(
        [np.median(late[seen[:, k], k]) if seen[:, k].any() else np.nan for k in range(10)]
    )


def _share(hits: Iterable[bool]) -> float:
    listed = list(hits)
    return float(np.mean(listed)) if listed else float("nan")


def _auroc(chance: FloatArray, present: FloatArray) -> float:
    """Area under the ROC curve from ranks (Mann and Whitney); NaN with one kind only."""
    n1 = int(present.sum())
    n0 = len(present) - n1
    if n0 == 0 or n1 == 0:
        return float("nan")
    ranks = rankdata(chance)
    return float((ranks[present].sum() - 0.5 * n1 * (n1 + 1)) / (n0 * n1))
