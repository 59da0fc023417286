"""What is true of a simulated swing, measured on it by the catalogue's own definitions.

The joints in space are looked at without error: straight along the line of sight (an orthographic
view), 240 times a second, in statures, with the true times of P1 to P10. The very measures of the
service are then taken. A fault seen from two sides has a truth for each, as the catalogue
defines it; turns told from how narrow a line looks are true in that sense, and not as
angles in space.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Protocol

import numpy as np

from service.analysis.events.normalized import (
    GRID,
    PhaseCurve,
    PlacedSwing,
    phase_curve,
    time_normalize,
)
from service.analysis.faults import CATALOGUE, MEASURES, Criterion
from service.analysis.judging.features import JUDGED
from service.analysis.measures.definition import Measure, MeasuredValue
from service.analysis.measures.taking import take
from service.analysis.pose.points import N_POINTS, Point
from service.analysis.types import BoolArray, FloatArray, Intent, Position, Reason, Source, View

_RATE: Final[float] = 240.0
"""Looks a second."""
_MARGIN: Final[float] = 0.3
"""Seconds looked at before P1 and after P10."""
_AXES: Final[dict[View, list[int]]] = {View.FACE_ON: [0, 1], View.DOWN_THE_LINE: [2, 1]}


class OfStature(Protocol):
    """A player of a stature."""

    @property
    def stature(self) -> float:
        """Metres."""


class TrueSwing(Protocol):
    """A swing whose joints and positions are known."""

    @property
    def golfer(self) -> OfStature:
        """The player."""

    @property
    def intent(self) -> Intent:
        """What the swing was meant to be."""

    @property
    def position_times(self) -> FloatArray:
        """Times of P1 to P10 in seconds, NaN where not reached, shape (10,)."""

    def canonical_joints(self, times: FloatArray) -> FloatArray:
        """Joints of shape (n_times, N_POINTS, 3)."""


@dataclass(frozen=True)
class Truth:
    """Truth about every fault of the catalogue, in its order, from one view.

    Attributes
    ----------
    margin : array of shape (n_faults,)
        How far beyond the thresholds, in half-widths of the grey zone, by the least met
        criterion: positive when the fault is there, within -1 to 1 in the grey zone, NaN where
        it can't be told from this view or the swing lacks the positions.
    shows_most : array of shape (n_faults,)
        When it shows most, seconds.
    values : array of shape (n_measures,)
        The measures of :data:`service.analysis.judging.features.JUDGED`; NaN as above.
    """

    margin: FloatArray
    shows_most: FloatArray
    values: FloatArray


@dataclass(frozen=True)
class TrueMeasures:
    """What the measures are of a motion seen without error, by name, and its position coordinate
    over the motion's own seconds."""

    values: dict[str, MeasuredValue | Reason]
    curve: PhaseCurve


def true_measures(
    motion: TrueSwing, view: View, measures: Iterable[Measure] = MEASURES
) -> TrueMeasures:
    """Take measures of a motion from one view, on its joints in space."""
    times = motion.position_times
    found = np.isfinite(times)
    clock = np.arange(times[found][0] - _MARGIN, times[found][-1] + _MARGIN, 1.0 / _RATE)
    joints = motion.canonical_joints(clock)[:, :, _AXES[view]] / motion.golfer.stature
    positions = tuple(_position(k + 1, t) for k, t in enumerate(times))
    hands = joints[:, [Point.LEAD_WRIST, Point.TRAIL_WRIST]].mean(axis=1)
    hips = joints[:, [Point.LEAD_HIP, Point.TRAIL_HIP]].mean(axis=1)
    curve = phase_curve(clock, hands - hips, positions)
    placed = PlacedSwing(joints, clock, curve, positions, np.zeros(N_POINTS))
    swing = time_normalize((placed,), view)
    return TrueMeasures({m.name: take(m, swing, positions) for m in measures}, curve)


def truth_of(motion: TrueSwing, view: View) -> Truth:
    """Measure a motion from one view."""
    return judged_truth(true_measures(motion, view, JUDGED), view)


def judged_truth(measured: TrueMeasures, view: View) -> Truth:
    """Truth about every fault from true measures that hold those it is judged by."""
    moments = []
    told = {n: m.value for n, m in measured.values.items() if isinstance(m, MeasuredValue)}
    margin = margins(told, view)
    for definition, known in zip(CATALOGUE.values(), np.isfinite(margin), strict=True):
        if not known:
            moments.append(np.nan)
            continue
        criterion = definition.criteria[view][0]
        leading = measured.values[criterion.measure.name]
        assert isinstance(leading, MeasuredValue)
        at = definition.shows_at or _most(criterion, leading)
        moments.append(float(measured.curve.when(np.array([at]))[0]))
    found = (measured.values[m.name] for m in JUDGED)
    values = [v.value if isinstance(v, MeasuredValue) else np.nan for v in found]
    return Truth(margin, np.array(moments), np.array(values))


def margins(told: Mapping[str, float], view: View) -> FloatArray:
    """How far each fault of the catalogue is beyond its thresholds, as in :class:`Truth`.

    Parameters
    ----------
    told
        True measures by name, those that are known.
    """
    found = []
    for definition in CATALOGUE.values():
        criteria = definition.criteria.get(view, ())
        if not criteria or any(c.measure.name not in told for c in criteria):
            found.append(np.nan)
            continue
        found.append(min(c.excess(told[c.measure.name]) / c.grey for c in criteria))
    return np.array(found)


def marked(told: Mapping[str, float], view: View) -> BoolArray:
    """Which faults of the catalogue are marked by every criterion, shape (n_faults,); false where
    that is not known.

    Parameters
    ----------
    told
        True measures by name, those that are known.
    """
    return np.array([_is_marked(each.criteria.get(view, ()), told) for each in CATALOGUE.values()])


def _is_marked(criteria: Sequence[Criterion], told: Mapping[str, float]) -> bool:
    return bool(criteria) and all(
        c.excess(told.get(c.measure.name, np.nan)) >= c.excess(c.marked) for c in criteria
    )


def _position(number: int, time: float) -> Position:
    if np.isnan(time):
        return Position(number, Source.NOT_FOUND, reason=Reason("not_reached", "Not reached."))
    return Position(number, Source.OBSERVED, time=float(time), frame=0.0, uncertainty=0.0)


def _most(criterion: Criterion, measured: MeasuredValue) -> float:
    window = criterion.measure.window
    return float(GRID[window][np.nanargmax(criterion.excess(measured.signal[window]))])
