"""One clip through the service, laid beside the truth."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from itertools import count, islice
from typing import Final

import numpy as np

from service.analysis.analyse import analyse
from service.analysis.measures.definition import MeasuredValue
from service.analysis.types import (
    Finding,
    FloatArray,
    Intent,
    Status,
    SwingAnalysis,
    SwingRecording,
    View,
)
from training.data.sources import Clip
from training.data.truth import margins, marked, true_measures

Source = Callable[[int, int], Iterator[Clip]]
"""The clips of one golfer, by seed and the golfer's number."""
Analyse = Callable[[SwingRecording], SwingAnalysis]
_TOO_VAGUE: Final = "too_uncertain"
"""Code of the reason why a fault that the footage shows is not judged."""


@dataclass(frozen=True)
class Verdict:
    """One finding beside the truth.

    ``margin`` is how far beyond the thresholds the truth lies, in half-widths of the grey zone;
    ``marked`` whether the fault is truly a marked one; ``shown`` whether the footage shows it, be
    it too vaguely to judge; ``against`` whether the verdict goes against the evidence printed
    beside it.
    """

    fault: str
    status: Status
    margin: float
    chance: float
    confidence: float
    marked: bool
    shown: bool
    against: bool

    @property
    def decided(self) -> bool:
        """Whether it says present or absent."""
        return self.status.is_decided

    @property
    def wrong(self) -> bool:
        """Decided, and on the other side of the threshold than the truth."""
        return self.decided and (self.status is Status.PRESENT) != (self.margin > 0.0)


@dataclass(frozen=True)
class Value:
    """One measure beside the truth, in its unit."""

    measure: str
    value: float
    uncertainty: float
    truth: float
    degrees: bool

    @property
    def off(self) -> float:
        """Value less truth; angles the short way round."""
        off = self.value - self.truth
        return (off + 180.0) % 360.0 - 180.0 if self.degrees else off


@dataclass(frozen=True)
class Row:
    """One clip: what was said of it and what is true.

    Attributes
    ----------
    found : bool
        Whether a swing was found, seen from the right side and played by the right hand; the
        rest is empty where not.
    late : array of shape (10,)
        Seconds by which P1 to P10 are placed late; NaN where not found or not reached.
    reached : array of shape (10,)
        1 where the swing truly reaches each, at a time that is known.
    length : float
        Seconds from the first to the last position, in truth.
    estimated : bool
        Whether the errors of its keypoints are those measured of a real estimator.
    """

    view: View
    setting: str
    grade: str
    clean: bool
    rehearsal: bool
    found: bool
    verdicts: tuple[Verdict, ...]
    values: tuple[Value, ...]
    late: FloatArray
    reached: FloatArray
    length: float
    estimated: bool


def rows_of(source: Source, clips: int, seed: int, judge: Analyse = analyse) -> Iterator[Row]:
    """The first ``clips`` clips of a source, judged; golfer after golfer, so that fewer clips
    are the beginning of more."""
    every = (clip for number in count() for clip in source(seed, number))
    for clip in islice(every, clips):
        yield row_of(clip, judge)


def row_of(clip: Clip, judge: Analyse = analyse) -> Row:
    """Judge one clip and lay the truth beside it."""
    said = judge(clip.recording)
    true_times = clip.motion.position_times
    reached = np.isfinite(true_times)
    length = float(np.ptp(true_times[reached]))
    reached[[n - 1 for n in clip.not_placed]] = False
    found = (
        said.swing_found
        and said.view is not None
        and said.view.value is clip.view
        and said.handedness is not None
        and said.handedness.value is clip.motion.handedness
    )
    late = np.full(10, np.nan)
    if found:
        placed = np.array([np.nan if p.time is None else p.time for p in said.positions])
        late = np.where(reached, placed + clip.start - true_times, np.nan)
    truth = _truth(clip) if found else {}
    return Row(
        view=clip.view,
        setting=clip.setting,
        grade=clip.grade,
        clean=clip.clean,
        rehearsal=clip.motion.intent is Intent.REHEARSAL,
        found=found,
        verdicts=_verdicts(said, truth, clip.view) if found else (),
        values=_values(said, truth),
        late=late,
        reached=reached.astype(float),
        length=length,
        estimated=clip.footage.noise.measured > 0.0,
    )


def against_evidence(finding: Finding) -> bool:
    """Whether a verdict goes against its own figures.

    Present, where a criterion falls short of its threshold by more than its uncertainty; absent,
    where every criterion is beyond its own.
    """
    evidence = finding.evidence
    if finding.status is Status.PRESENT:
        return any(e.excess < -e.uncertainty for e in evidence)
    return (
        finding.status is Status.ABSENT and bool(evidence) and all(e.excess > 0.0 for e in evidence)
    )


def _truth(clip: Clip) -> Mapping[str, float]:
    """True measures by name, those that are known."""
    if clip.truth is not None:
        return clip.truth
    measured = true_measures(clip.motion, clip.view).values.items()
    return {name: m.value for name, m in measured if isinstance(m, MeasuredValue)}


def _verdicts(said: SwingAnalysis, truth: Mapping[str, float], view: View) -> tuple[Verdict, ...]:
    return tuple(
        Verdict(
            fault=finding.fault,
            status=finding.status,
            margin=float(margin),
            chance=np.nan if finding.chance is None else finding.chance,
            confidence=np.nan if finding.confidence is None else finding.confidence,
            marked=bool(is_marked),
            shown=finding.reason is None or finding.reason.code == _TOO_VAGUE,
            against=against_evidence(finding),
        )
        for finding, margin, is_marked in zip(
            said.findings, margins(truth, view), marked(truth, view), strict=True
        )
        if np.isfinite(margin)
    )


def _values(said: SwingAnalysis, truth: Mapping[str, float]) -> tuple[Value, ...]:
    return tuple(
        Value(told.name, told.value, told.uncertainty, truth[told.name], told.unit == "degrees")
        for told in said.measures
        if told.value is not None and told.uncertainty is not None and told.name in truth
    )
