"""Does the same real swing get the same answer twice, annotated by hand and through an estimator?

``python -m tests.reference.said_twice`` analyses the 21 swings of which both are given beyond
doubt, and prints how often both were found, whether view and handedness agree, how often each
measure lies within two combined standard uncertainties of the other, where verdicts differ and
how many frames the positions lie apart. ``--all`` adds the clips whose match is not beyond doubt.

Neither side is the truth: annotators err too, and a bias that both share does not show.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot
from typing import Any, Final

import numpy as np

from service.contract import answer_to
from service.settings import Settings
from service.use_cases.analyse import Analyser
from tests.reference.clips import FOLDER, read, request

_ANALYSER: Final = Analyser.of(Settings())
_DECIDED: Final = ("present", "absent")
_WITHIN: Final = 2.0
"""Combined standard uncertainties that two readings of one thing may lie apart."""
_WORST: Final = 12
"""Differences named one by one."""


@dataclass(frozen=True)
class Pair:
    """The answers to one swing, annotated by hand and as an estimator saw it."""

    clip: str
    certain: bool
    by_hand: dict[str, Any]
    estimated: dict[str, Any]

    @property
    def both_found(self) -> bool:
        """Whether a swing was found in both."""
        return bool(self.by_hand["swing_found"] and self.estimated["swing_found"])

    def same(self, what: str) -> bool:
        """Whether both name the same ``view`` or ``handedness``."""
        return bool(self.by_hand[what]["value"] == self.estimated[what]["value"])


@dataclass(frozen=True)
class Twice:
    """One measure of one swing, read twice."""

    clip: str
    measure: str
    by_hand: float
    estimated: float
    uncertainty: float
    """Combined standard uncertainty of the difference."""

    @property
    def apart(self) -> float:
        """Difference in combined standard uncertainties."""
        return abs(self.estimated - self.by_hand) / max(self.uncertainty, 1e-9)


def answered_pairs(*, certain_only: bool = True) -> list[Pair]:
    """Analyse every swing that is given twice."""
    by_hand = {clip["id"]: clip for clip in read("golf_clips")}
    return [
        Pair(seen["id"], certain, _answer(by_hand[seen["id"]]), _answer(seen))
        for seen in read("estimated_golf_clips")
        if (certain := bool(seen["same_clip_as_annotated"])) or not certain_only
    ]


def _answer(clip: dict[str, Any]) -> dict[str, Any]:
    answer = answer_to(json.dumps(request(clip)).encode(), _ANALYSER)
    assert isinstance(answer, dict)
    return answer


def measured_twice(pairs: Sequence[Pair]) -> list[Twice]:
    """Every measure that both sides of a pair give."""
    return [
        Twice(p.clip, a["name"], a["value"], b["value"], hypot(a["uncertainty"], b["uncertainty"]))
        for p in pairs
        if p.both_found
        for a, b in zip(p.by_hand["measures"], p.estimated["measures"], strict=True)
        if a["value"] is not None and b["value"] is not None
    ]


def decided_twice(pairs: Sequence[Pair]) -> list[tuple[str, str, str, str]]:
    """Clip, fault and both verdicts wherever both sides decide."""
    return [
        (p.clip, a["fault"], a["status"], b["status"])
        for p in pairs
        if p.both_found
        for a, b in zip(p.by_hand["findings"], p.estimated["findings"], strict=True)
        if a["status"] in _DECIDED and b["status"] in _DECIDED
    ]


def frames_apart(pairs: Sequence[Pair]) -> dict[str, list[float]]:
    """Frames from the annotated to the estimated position, for each of P1 to P10."""
    apart: dict[str, list[float]] = {f"P{n}": [] for n in range(1, 11)}
    for p in pairs:
        if p.both_found:
            for a, b in zip(p.by_hand["positions"], p.estimated["positions"], strict=True):
                if a["frame"] is not None and b["frame"] is not None:
                    apart[a["name"]].append(b["frame"] - a["frame"])
    return apart


def report(pairs: Sequence[Pair]) -> list[str]:
    """Everything in lines of text."""
    found = [p for p in pairs if p.both_found]
    lines = [f"both found                {len(found)} of {len(pairs)}"]
    lines += [f"  not both: {p.clip}" for p in pairs if not p.both_found]
    for what in ("view", "handedness"):
        differ = [p.clip for p in found if not p.same(what)]
        agree = len(found) - len(differ)
        lines.append(f"same {what:21s}{agree} of {len(found)} {' '.join(differ)}")
    return [
        *lines,
        *_verdict_lines(pairs),
        *_position_lines(frames_apart(found)),
        *_measure_lines([p for p in found if p.same("view") and p.same("handedness")]),
    ]


def _verdict_lines(pairs: Sequence[Pair]) -> list[str]:
    decided = decided_twice(pairs)
    differ = [d for d in decided if d[2] != d[3]]
    given = [
        sum(f["status"] in _DECIDED for p in pairs for f in getattr(p, side)["findings"])
        for side in ("by_hand", "estimated")
    ]
    return [
        f"decided verdicts equal    {len(decided) - len(differ)} of {len(decided)} "
        f"(decided by hand {given[0]}, estimated {given[1]})",
        *(f"  {clip} {fault}: {a} by hand, {b} estimated" for clip, fault, a, b in differ),
    ]


def _position_lines(apart: dict[str, list[float]]) -> list[str]:
    lines = ["position  pairs  frames apart: median  median size  90 %"]
    for name, values in apart.items():
        if values:
            off = np.array(values)
            lines.append(
                f"{name:8s}{len(off):7d}{np.median(off):21.1f}{np.median(np.abs(off)):13.1f}"
                f"{np.quantile(np.abs(off), 0.9):6.1f}"
            )
    return lines


def _measure_lines(pairs: Sequence[Pair]) -> list[str]:
    twice = measured_twice(pairs)
    lines = ["measure                     pairs  within 2  median difference, its size, stated"]
    for name in dict.fromkeys(t.measure for t in twice):
        of = [t for t in twice if t.measure == name]
        off = np.array([t.estimated - t.by_hand for t in of])
        lines.append(
            f"{name:28s}{len(of):5d}{np.mean([t.apart <= _WITHIN for t in of]):9.0%}"
            f"{np.median(off):14.1f}{np.median(np.abs(off)):9.1f}"
            f"{np.median([t.uncertainty for t in of]):9.1f}"
        )
    share = np.mean([t.apart <= _WITHIN for t in twice])
    worst = sorted(twice, key=lambda t: -t.apart)[:_WORST]
    return [
        *lines,
        f"{'all':28s}{len(twice):5d}{share:9.0%}",
        "furthest apart:",
        *(
            f"  {t.clip} {t.measure}: {t.by_hand:.1f} by hand, {t.estimated:.1f} estimated, "
            f"+- {t.uncertainty:.1f} ({t.apart:.1f})"
            for t in worst
            if t.apart > _WITHIN
        ),
    ]


def main(arguments: Sequence[str]) -> int:
    """Print the comparison."""
    if not FOLDER.is_dir():
        print(f"No reference data in {FOLDER}; set SWING_REFERENCE_DIR.", file=sys.stderr)
        return 2
    pairs = answered_pairs(certain_only="--all" not in arguments)
    print("\n".join(report(pairs)))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
