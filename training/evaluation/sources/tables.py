"""The figures as Markdown."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from service.analysis.types import FloatArray
from training.evaluation.sources.tallies import MeasureTally, Tally, VerdictTally

_HEAD = (
    "| {first} | decided | wrong | wrong, clear | recall | recall, clear | false alarms a clean "
    "swing | right where 0.95 sure | against evidence | AUROC | assessable | "
    "assessable where clearly there | marked faults told |\n"
    "| --- " + "| ---: " * 12 + "|"
)
NOTES = (
    "*wrong*: decided verdicts (present or absent) on the other side of the threshold than the "
    "truth; *clear*: only where the truth lies outside the grey zone. *recall*: of truly present "
    "faults, where assessable. *marked faults told*: of truly marked faults that the footage "
    "shows, be it vaguely, those told as present. Truth: the catalogue's measures on the motion in "
    "space, seen straight and without error, or what the source tells itself."
)


def verdict_table(tallies: Mapping[str, Tally]) -> str:
    """One row for every group of clips."""
    head = _HEAD.format(first="source, view")
    return "\n".join([head, *(_verdict_row(name, t.verdicts) for name, t in tallies.items())])


def fault_table(told: Tally) -> str:
    """One row for every fault."""
    head = _HEAD.format(first="fault")
    return "\n".join([head, *(_verdict_row(name, t) for name, t in told.faults.items())])


def measure_table(measures: Sequence[MeasureTally], view: str) -> str:
    """One row for every measure; what misses its target carries a mark."""
    head = (
        f"| measure, {view} | n | within 2 uncertainties | median off | spread | stated | grey |\n"
        "| --- | ---: | ---: | ---: | ---: | ---: | ---: |"
    )
    return "\n".join([head, *map(_measure_row, measures)])


def position_table(told: Tally) -> str:
    """Shares placed well and median lateness, by grade of footage."""
    head = "| footage | " + " | ".join(f"P{k}" for k in range(1, 11)) + " | all |\n"
    head += "| --- " + "| ---: " * 11 + "|"
    lines = [head]
    for grade, shares in told.placed.items():
        cells = [*(_share(s) for s in shares), _share(float(np.nanmean(shares)))]
        lines.append(f"| {grade} | " + " | ".join(cells) + " |")
        lines.append(f"| {grade}, median ms late | " + " | ".join(_ms(told.late[grade])) + " | |")
    return "\n".join(lines)


def _verdict_row(name: str, t: VerdictTally) -> str:
    return (
        f"| {name} | {t.decided} | {_share(t.wrong)} | {_share(t.wrong_clear)} of "
        f"{t.decided_clear} | {_number(t.recall)} of {t.present} | {_number(t.recall_clear)} | "
        f"{_number(t.alarms)} of {t.clean} | {_share(t.sure_right)} of {t.sure} | {t.against} | "
        f"{_number(t.auroc, 3)} | {_share(t.assessable)} | "
        f"{_share(t.told_clear)} of {t.there_clear} | {_share(t.told_marked)} of {t.marked} |"
    )


def _measure_row(m: MeasureTally) -> str:
    low = "" if m.coverage >= 0.95 else " !"
    aside = " !" if abs(m.bias) > m.grey / 3.0 else ""
    grey = "" if np.isnan(m.grey) else f"{m.grey:g}"
    return (
        f"| {m.measure} | {m.n} | {m.coverage:.1%}{low} | {m.bias:+.2f}{aside} | {m.spread:.2f} | "
        f"{m.stated:.2f} | {grey} |"
    )


def _ms(late: FloatArray) -> list[str]:
    return ["" if np.isnan(v) else f"{1000.0 * v:+.0f}" for v in late]


def _share(value: float) -> str:
    return "" if np.isnan(value) else f"{value:.1%}"


def _number(value: float, digits: int = 2) -> str:
    return "" if np.isnan(value) else f"{value:.{digits}f}"
