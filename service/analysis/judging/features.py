"""What the trained model sees of a swing: one vector of fixed length.

Everything is aligned by position and comes from the very objects that the rules judge by, in
their units and frames: measures with their uncertainties, signals about their windows, and
joints at the positions in body heights about the middle of the feet at address. What is
missing is NaN, and flags say what was seen at all.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.analysis.events.normalized import GRID, NormalizedSwing, grid_index
from service.analysis.faults import MEASURES
from service.analysis.measured import MeasuredSwing
from service.analysis.measures.definition import Measure, MeasuredValue
from service.analysis.measures.general import GENERAL
from service.analysis.pose.points import Point
from service.analysis.types import FloatArray, Intent, Source

_JOINTS: Final[tuple[Point, ...]] = (
    Point.NOSE,
    *(p for p in Point if Point.LEAD_SHOULDER <= p <= Point.TRAIL_WRIST),
    *(p for p in Point if Point.LEAD_HIP <= p <= Point.TRAIL_TOE),
    Point.CLUBHEAD,
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
_AT: Final[FloatArray] = np.arange(1.0, 9.6, 0.5)
"""Position coordinates at which joints are told."""
_ABOUT: Final[float] = 0.5
_PLACES: Final[int] = 5
"""A signal is told at this many places from half a position before its window to half after."""
_FAULT_MEASURES: Final[tuple[Measure, ...]] = tuple(m for m in MEASURES if m not in GENERAL)
_MOST: Final[float] = 1e4


def _signal_grid(measure: Measure) -> NDArray[np.intp]:
    places = np.linspace(measure.start - _ABOUT, measure.end + _ABOUT, _PLACES)
    return np.array([grid_index(float(p)) for p in np.clip(places, 1.0, 10.0)], dtype=np.intp)


_SIGNAL_GRIDS: Final = {m.name: _signal_grid(m) for m in _FAULT_MEASURES}
_JOINT_GRID: Final = np.array([grid_index(float(p)) for p in _AT], dtype=np.intp)


def _names() -> tuple[str, ...]:
    signals = [
        f"signal.{name}.p{GRID[k]:g}.{n}"
        for name, grid in _SIGNAL_GRIDS.items()
        for n, k in enumerate(grid)
    ]
    joints = [
        f"joint.{p.name.lower()}.p{at:g}.{axis}" for p in _JOINTS for at in _AT for axis in "xy"
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
        *(f"measure.{m.name}.{part}" for m in MEASURES for part in ("value", "uncertainty")),
        *signals,
        *joints,
    )


FEATURE_NAMES: Final[tuple[str, ...]] = _names()
"""Names of the features in order.

``clip``: log2 of frames a second, 1 for a rehearsal, confidence in the view, frames between P4
and P7, one standard deviation of some points in body heights, share of P1 to P9 in which some
points are seen. ``position``: time after P4 and its uncertainty in units of P4 to P7, 1 if
observed, 0.5 if inferred. ``measure`` and ``signal``: in the measure's unit. ``joint``: x and y
in body heights.
"""


def feature_vector(swing: MeasuredSwing) -> NDArray[np.float32]:
    """Features of one swing, shape (n_features,), in the order of :data:`FEATURE_NAMES`.

    NaN where a feature is missing.
    """
    parts = (
        _clip(swing),
        _positions(swing),
        _measures(swing),
        _signals(swing),
        _joints(swing.normalized),
    )
    vector = np.clip(np.concatenate(parts), -_MOST, _MOST)
    return np.asarray(vector, dtype=np.float32)


def _clip(swing: MeasuredSwing) -> FloatArray:
    normalized, step = swing.normalized, float(np.median(np.diff(swing.times)))
    down = normalized.times[0, grid_index(7.0)] - normalized.times[0, grid_index(4.0)]
    seen = 1.0 - normalized.missing[list(_SEEN), : grid_index(9.0)].mean(axis=1)
    return np.array(
        [
            -np.log2(step),
            float(swing.intent is Intent.REHEARSAL),
            swing.view.confidence,
            down / step,
            *swing.point_error[list(_ERROR_OF)],
            *seen,
        ]
    )


def _positions(swing: MeasuredSwing) -> FloatArray:
    times = np.array([np.nan if p.time is None else p.time for p in swing.positions])
    spread = np.array([np.nan if p.time is None else p.uncertainty for p in swing.positions])
    down = max(times[6] - times[3], 1e-3) if np.isfinite(times[[3, 6]]).all() else np.nan
    how = {Source.OBSERVED: 1.0, Source.INFERRED: 0.5, Source.NOT_FOUND: 0.0}
    sources = np.array([how[p.source] for p in swing.positions])
    return np.concatenate([(times - times[3]) / down, spread / down, sources])


def _measures(swing: MeasuredSwing) -> FloatArray:
    pairs = [
        (measured.value, measured.uncertainty)
        if isinstance(measured := swing.values[m.name], MeasuredValue)
        else (np.nan, np.nan)
        for m in MEASURES
    ]
    return np.array(pairs).ravel()


def _signals(swing: MeasuredSwing) -> FloatArray:
    unknown = np.full(_PLACES, np.nan)
    signals = [
        measured.signal[grid]
        if isinstance(measured := swing.values[name], MeasuredValue)
        else unknown
        for name, grid in _SIGNAL_GRIDS.items()
    ]
    return np.concatenate(signals)


def _joints(swing: NormalizedSwing) -> FloatArray:
    """Joints about the middle of the ankles at address, shape (joints * places * 2,)."""
    feet = swing.poses[[Point.LEAD_ANKLE, Point.TRAIL_ANKLE], 0, 0].mean(axis=0)
    about = swing.poses[list(_JOINTS), 0][:, _JOINT_GRID] - feet
    return np.asarray(about.reshape(-1))


def indices_by_subject() -> dict[str, list[int]]:
    """Indices of the features by what they are about: a measure, a joint, a position."""
    subjects: dict[str, list[int]] = {}
    for index, name in enumerate(FEATURE_NAMES):
        kind, subject = name.split(".")[:2]
        told = {"position": f"timing of P{subject}", "clip": "the footage"}.get(kind, subject)
        subjects.setdefault(told, []).append(index)
    return subjects


def fingerprint(names: Sequence[str]) -> str:
    """Twelve hex digits that stand for the features that one model reads, in their order.

    A new fault brings new features and leaves the names of the others as they are, so that the
    other models' fingerprints hold.
    """
    return hashlib.sha256("\n".join(names).encode()).hexdigest()[:12]
