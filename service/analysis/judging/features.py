"""What the trained estimators see of a swing: one vector of fixed length.

Everything comes from the very objects that the rules judge by, in their units and frames: how the
clip was filmed, the timing, each judged measure's uncertainty and the shape of its signal, and
the joints at address in body heights about the middle of the feet. What is missing is NaN, and
flags say what was seen at all.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.analysis.events.normalized import GRID, NormalizedSwing, grid_index
from service.analysis.faults import CATALOGUE, MEASURES
from service.analysis.measured import MeasuredSwing
from service.analysis.measures.definition import Measure, MeasuredValue
from service.analysis.pose.geometry import frame_interval
from service.analysis.pose.points import Point
from service.analysis.types import FloatArray, Intent, Source

_JOINTS: Final[tuple[Point, ...]] = (
    Point.NOSE,
    *(p for p in Point if Point.LEAD_SHOULDER <= p <= Point.TRAIL_WRIST),
    *(p for p in Point if Point.LEAD_HIP <= p <= Point.TRAIL_ANKLE),
)
_ERROR_OF: Final[tuple[Point, ...]] = (
    Point.TRAIL_WRIST,
    Point.LEAD_ELBOW,
    Point.TRAIL_SHOULDER,
    Point.TRAIL_KNEE,
    Point.TRAIL_HEEL,
    Point.CLUBHEAD,
)
_SEEN: Final[tuple[Point, ...]] = (Point.NOSE, Point.TRAIL_EAR, Point.TRAIL_HEEL, Point.CLUBHEAD)
_ABOUT: Final[float] = 0.5
_PLACES: Final[int] = 5
"""A signal is told at this many places from half a position before its window to half after."""
_MOST: Final[float] = 1e4
_ROUNDING: Final[float] = 1e-9
"""Of a signal less its value, in any unit: less is no difference."""
JUDGED: Final[tuple[Measure, ...]] = tuple(
    measure
    for measure in MEASURES
    if any(
        criterion.measure is measure
        for definition in CATALOGUE.values()
        for criteria in definition.criteria.values()
        for criterion in criteria
    )
)
"""The measures that faults are judged by."""


def _signal_grid(measure: Measure) -> NDArray[np.intp]:
    places = np.linspace(measure.start - _ABOUT, measure.end + _ABOUT, _PLACES)
    return np.array([grid_index(float(p)) for p in np.clip(places, 1.0, 10.0)], dtype=np.intp)


_SIGNAL_GRIDS: Final = {m.name: _signal_grid(m) for m in JUDGED}


def _names() -> tuple[str, ...]:
    shapes = [
        f"shape.{name}.p{GRID[k]:g}.{n}"
        for name, grid in _SIGNAL_GRIDS.items()
        for n, k in enumerate(grid)
    ]
    return (
        "clip.log2_frame_rate",
        "clip.rehearsal",
        "clip.view_confidence",
        "clip.frames_down",
        *(f"clip.error.{p.name.lower()}" for p in _ERROR_OF),
        *(f"clip.seen.{p.name.lower()}" for p in _SEEN),
        *(f"position.{n}.time" for n in range(1, 11)),
        *(f"position.{n}.uncertainty" for n in range(1, 11)),
        *(f"position.{n}.observed" for n in range(1, 11)),
        *(f"measure.{m.name}.{part}" for m in JUDGED for part in ("value", "uncertainty")),
        *shapes,
        *(f"address.{p.name.lower()}.{axis}" for p in _JOINTS for axis in "xy"),
    )


FEATURE_NAMES: Final[tuple[str, ...]] = _names()
"""Names of the features in order.

``clip``: log2 of frames a second, 1 for a rehearsal, confidence in the view, frames between P4
and P7, one standard deviation of some points in body heights, share of P1 to P9 in which some
points are seen. ``position``: time after P4 and its uncertainty in units of P4 to P7, 1 if
observed, 0.5 if inferred. ``measure``: in its unit; ``shape``: its signal less its value, in its
unit. ``address``: x and y of a joint at P1 in body heights.
"""


def feature_vector(swing: MeasuredSwing) -> NDArray[np.float32]:
    """Features of one swing, shape (n_features,), in the order of :data:`FEATURE_NAMES`.

    NaN where a feature is missing.
    """
    measured = [swing.values[m.name] for m in JUDGED]
    parts = (
        _clip(swing),
        _positions(swing),
        _measures(measured),
        _shapes(measured),
        _address(swing.normalized),
    )
    vector = np.minimum(np.maximum(np.concatenate(parts), -_MOST), _MOST)
    return vector.astype(np.float32)


def _clip(swing: MeasuredSwing) -> FloatArray:
    normalized, step = swing.normalized, frame_interval(swing.times)
    down = normalized.times[0, grid_index(7.0)] - normalized.times[0, grid_index(4.0)]
    missing = normalized.missing[:, : grid_index(9.0)].take(_SEEN, axis=0)
    seen = 1.0 - np.add.reduce(missing, axis=1) / missing.shape[1]
    return np.array(
        [
            -np.log2(step),
            float(swing.intent is Intent.REHEARSAL),
            swing.view.confidence,
            down / step,
            *swing.point_error.take(_ERROR_OF).tolist(),
            *seen.tolist(),
        ]
    )


def _positions(swing: MeasuredSwing) -> FloatArray:
    times = np.array([np.nan if p.time is None else p.time for p in swing.positions])
    spread = np.array([np.nan if p.time is None else p.uncertainty for p in swing.positions])
    down = max(times[6] - times[3], 1e-3) if np.isfinite(times[[3, 6]]).all() else np.nan
    how = {Source.OBSERVED: 1.0, Source.INFERRED: 0.5, Source.NOT_FOUND: 0.0}
    sources = np.array([how[p.source] for p in swing.positions])
    return np.concatenate([(times - times[3]) / down, spread / down, sources])


def _measures(measured: Sequence[object]) -> FloatArray:
    pairs = [
        (each.value, each.uncertainty) if isinstance(each, MeasuredValue) else (np.nan, np.nan)
        for each in measured
    ]
    return np.array(pairs).ravel()


def _shapes(measured: Sequence[object]) -> FloatArray:
    unknown = np.full(_PLACES, np.nan)
    shapes = [
        each.signal[grid] - each.value if isinstance(each, MeasuredValue) else unknown
        for each, grid in zip(measured, _SIGNAL_GRIDS.values(), strict=True)
    ]
    told = np.concatenate(shapes)
    told[np.abs(told) < _ROUNDING] = 0.0  # else which way a sum is rounded tells swings apart
    return told


def _address(normalized: NormalizedSwing) -> FloatArray:
    """Joints about the middle of the ankles at P1, shape (n_joints * 2,)."""
    pose = normalized.poses[:, 0, 0]
    feet = pose[[Point.LEAD_ANKLE, Point.TRAIL_ANKLE]].mean(axis=0)
    return np.asarray((pose[list(_JOINTS)] - feet).reshape(-1))


def fingerprint(names: Sequence[str]) -> str:
    """Twelve hex digits that stand for some features, by their names and order."""
    return hashlib.sha256("\n".join(names).encode()).hexdigest()[:12]
