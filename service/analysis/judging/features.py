"""What the trained estimators see of a swing: one vector of fixed length.

Everything comes from the very objects that the rules judge by, in their units and frames: how the
clip was filmed, how steady limbs and feet are, how far limbs have stretched since address, the
timing, each judged measure's uncertainty and the shape of its signal, and the joints at address in
body heights about the middle of the feet.
What is missing is NaN, and flags say what was seen at all.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.analysis.events.normalized import GRID, grid_index
from service.analysis.faults import CATALOGUE, MEASURES
from service.analysis.measured import MeasuredSwing
from service.analysis.measures.definition import Measure, MeasuredValue
from service.analysis.pose.geometry import frame_interval, midpoint, spread, squared_length
from service.analysis.pose.points import Point
from service.analysis.types import FloatArray, Intent, Source

_JOINTS: Final[tuple[Point, ...]] = (
    Point.NOSE,
    *(p for p in Point if Point.LEAD_SHOULDER <= p <= Point.TRAIL_WRIST),
    *(p for p in Point if Point.LEAD_HIP <= p <= Point.TRAIL_ANKLE),
)
_ERROR_OF: Final[tuple[Point, ...]] = (
    *_JOINTS[1:],
    Point.LEAD_HEEL,
    Point.TRAIL_HEEL,
    Point.LEAD_TOE,
    Point.TRAIL_TOE,
    Point.CLUBHEAD,
)
_SEGMENTS: Final[tuple[tuple[Point, Point], ...]] = (
    (Point.LEAD_SHOULDER, Point.LEAD_ELBOW),
    (Point.TRAIL_SHOULDER, Point.TRAIL_ELBOW),
    (Point.LEAD_ELBOW, Point.LEAD_WRIST),
    (Point.TRAIL_ELBOW, Point.TRAIL_WRIST),
    (Point.LEAD_HIP, Point.LEAD_KNEE),
    (Point.TRAIL_HIP, Point.TRAIL_KNEE),
    (Point.LEAD_KNEE, Point.LEAD_ANKLE),
    (Point.TRAIL_KNEE, Point.TRAIL_ANKLE),
    (Point.LEAD_SHOULDER, Point.LEAD_HIP),
    (Point.TRAIL_SHOULDER, Point.TRAIL_HIP),
    (Point.LEAD_SHOULDER, Point.LEAD_WRIST),
    (Point.TRAIL_SHOULDER, Point.TRAIL_WRIST),
    (Point.LEAD_WRIST, Point.TRAIL_WRIST),
    (Point.LEAD_SHOULDER, Point.TRAIL_SHOULDER),
    (Point.LEAD_HIP, Point.TRAIL_HIP),
    (Point.LEAD_HEEL, Point.LEAD_TOE),
    (Point.TRAIL_HEEL, Point.TRAIL_TOE),
)
"""Lengths that change little, or smoothly, as the body moves: where they do otherwise, a point is
off that does not jitter."""
_STANDING: Final[tuple[Point, ...]] = (Point.LEAD_ANKLE, Point.TRAIL_ANKLE, Point.LEAD_HEEL)
"""Points that a player leaves where they are up to the ball."""
_SEEN: Final[tuple[Point, ...]] = (Point.NOSE, Point.TRAIL_EAR, Point.TRAIL_HEEL, Point.CLUBHEAD)
_STRETCHED_AT: Final[tuple[int, ...]] = (4, 5, 6, 7, 8)
"""Positions at which lengths are held against address: each measure sees those nearest to it."""
_PACES: Final[dict[str, tuple[float, float]]] = {
    "after_p1": (1.0, 1.125),
    "before_p4": (3.875, 4.0),
    "after_p4": (4.0, 4.125),
}
"""Eighths of the hands' way at either end of the backswing: where hands creep, the moment at which
they start or turn is hard to tell."""
_MOST: Final[float] = 1e4
_ROUNDING: Final[float] = 1e-9
"""Of a signal less its value, in any unit: less is no difference."""
_PEAK_STEP: Final[float] = 1e-6
"""Values of a signal nearer to each other than this, in its unit, are equal."""
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


_SHAPE_PLACES: Final[NDArray[np.intp]] = np.array([m.about for m in JUDGED], dtype=np.intp)
"""Where the shape of each measure's signal is told, shape (n_measures, SHAPE_PLACES)."""
_WINDOWS: Final[NDArray[np.bool_]] = np.array([(m.start <= GRID) & (m.end >= GRID) for m in JUDGED])
_ROWS: Final[NDArray[np.intp]] = np.arange(len(JUDGED))
_STARTS: Final[FloatArray] = np.array([float(m.window.start) for m in JUDGED])
_LENGTHS: Final[FloatArray] = np.array(
    [float(max(m.window.stop - m.window.start - 1, 1)) for m in JUDGED]
)
_STARTS_OF, _ENDS_OF = (np.array(points) for points in zip(*_SEGMENTS, strict=True))
_PACE_STARTS, _PACE_ENDS = (
    np.array([grid_index(edge) for edge in edges]) for edges in zip(*_PACES.values(), strict=True)
)
_NOT_TAKEN: Final = MeasuredValue(np.nan, np.nan, np.full(len(GRID), np.nan))
_STRETCHED: Final = [grid_index(n) for n in _STRETCHED_AT]


def stretched_at(measure: Measure) -> int:
    """Number of the position whose lengths tell most of a measure: the one nearest to the middle
    of its window."""
    middle = 0.5 * (measure.start + measure.end)
    return min(_STRETCHED_AT, key=lambda n: (abs(n - middle), -n))


def _names() -> tuple[str, ...]:
    shapes = [
        f"shape.{measure.name}.p{GRID[k]:g}.{n}"
        for measure in JUDGED
        for n, k in enumerate(measure.about)
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
        *(f"pace.{name}" for name in _PACES),
        *(f"measure.{m.name}.{part}" for m in JUDGED for part in ("value", "uncertainty")),
        *shapes,
        *(f"peak.{m.name}" for m in JUDGED),
        *(f"length.{a.name.lower()}.{b.name.lower()}" for a, b in _SEGMENTS),
        *(f"slide.{p.name.lower()}.{axis}" for p in _STANDING for axis in "xy"),
        *(
            f"stretch.{a.name.lower()}.{b.name.lower()}.p{n}"
            for a, b in _SEGMENTS
            for n in _STRETCHED_AT
        ),
        *(f"wrists.{axis}.p{n}" for axis in "xy" for n in _STRETCHED_AT),
        *(f"address.{p.name.lower()}.{axis}" for p in _JOINTS for axis in "xy"),
    )


FEATURE_NAMES: Final[tuple[str, ...]] = _names()
"""Names of the features in order.

``clip``: log2 of frames a second, 1 for a rehearsal, confidence in the view, frames between P4
and P7, one standard deviation of some points in body heights, share of P1 to P9 in which some
points are seen. ``position``: time after P4 and its uncertainty in units of P4 to P7, 1 if
observed, 0.5 if inferred. ``pace``: time over an eighth of the hands' way at either end of the
backswing, in the same unit. ``measure``: in its unit; ``shape``: its signal less its value, in its
unit; ``peak``: where in its window it is largest, 0 at the start and 1 at the end. ``length``:
spread of the distance between two points from P1 to P8, ``slide``: of a foot's point from P1 to P7,
body heights; ``stretch``: how much longer that distance is than at P1, ``wrists``: the same of the
way from the trail wrist to the lead one. ``address``: x and y of a joint at P1 in body heights.
"""


def feature_vector(swing: MeasuredSwing) -> NDArray[np.float32]:
    """Features of one swing, shape (n_features,), as :func:`feature_vectors` tells them."""
    vector: NDArray[np.float32] = feature_vectors((swing,))[0]
    return vector


def feature_vectors(swings: Sequence[MeasuredSwing]) -> NDArray[np.float32]:
    """Features of swings, shape (n_swings, n_features), in the order of :data:`FEATURE_NAMES`.

    NaN where a feature is missing.
    """
    poses = np.concatenate([swing.normalized.poses for swing in swings])
    values, signals = _measured(swings)
    parts = (
        _clip(swings),
        _positions(swings),
        values.reshape(len(swings), -1),
        _shapes(signals, values[..., 0]),
        _peaks(signals),
        _unrest(poses),
        _address(poses),
    )
    vectors = np.minimum(np.maximum(np.concatenate(parts, axis=1), -_MOST), _MOST)
    return vectors.astype(np.float32)


def _clip(swings: Sequence[MeasuredSwing]) -> FloatArray:
    missing = np.concatenate([swing.normalized.missing for swing in swings])
    missing = missing.take(_SEEN, axis=1)[..., : grid_index(9.0)]
    seen = 1.0 - np.count_nonzero(missing, axis=2) / missing.shape[2]
    step = np.array([frame_interval(swing.times) for swing in swings])
    clock = np.array([swing.normalized.times[0] for swing in swings])
    down = clock[:, grid_index(7.0)] - clock[:, grid_index(4.0)]
    filmed = [
        -np.log2(step),
        np.array([float(swing.intent is Intent.REHEARSAL) for swing in swings]),
        np.array([swing.view.confidence for swing in swings]),
        down / step,
    ]
    errors = np.array([swing.point_error for swing in swings]).take(_ERROR_OF, axis=1)
    return np.concatenate([np.stack(filmed, axis=1), errors, seen], axis=1)


_HOW: Final = {Source.OBSERVED: 1.0, Source.INFERRED: 0.5, Source.NOT_FOUND: 0.0}


def _positions(swings: Sequence[MeasuredSwing]) -> FloatArray:
    placed = [
        [(p.time, p.uncertainty, _HOW[p.source]) for p in swing.positions] for swing in swings
    ]
    times, spread, sources = np.array(placed, dtype=float).transpose(2, 0, 1)
    top = times[:, 3:4]
    down = np.maximum(times[:, 6:7] - top, 1e-3)
    clock = np.array([swing.normalized.times[0] for swing in swings])
    paces = clock.take(_PACE_ENDS, axis=1) - clock.take(_PACE_STARTS, axis=1)
    parts = [(times - top) / down, spread / down, sources, paces / down]
    return np.concatenate(parts, axis=1)


def _measured(swings: Sequence[MeasuredSwing]) -> tuple[FloatArray, FloatArray]:
    """Values and uncertainties of the judged measures, shape (n_swings, n_measures, 2), and their
    signals, shape (n_swings, n_measures, n_grid); NaN where they could not be taken."""
    found = [
        each if isinstance(each := swing.values[measure.name], MeasuredValue) else _NOT_TAKEN
        for swing in swings
        for measure in JUDGED
    ]
    values = np.array([(each.value, each.uncertainty) for each in found])
    signals = np.array([each.signal for each in found])
    shape = len(swings), len(JUDGED), -1
    return values.reshape(shape), signals.reshape(shape)


def _shapes(signals: FloatArray, values: FloatArray) -> FloatArray:
    told = signals[:, _ROWS[:, None], _SHAPE_PLACES] - values[..., None]
    told[np.abs(told) < _ROUNDING] = 0.0  # else which way a sum is rounded tells swings apart
    return told.reshape(len(told), -1)


def _peaks(signals: FloatArray) -> FloatArray:
    """Where each signal is largest within its window, shape (n_swings, n_measures)."""
    # Rounded, so that which way a sum is rounded does not choose among equals.
    size = np.rint(signals / _PEAK_STEP)
    size[~_WINDOWS | np.isnan(size)] = -np.inf
    most = size.argmax(axis=2)
    seen = np.take_along_axis(size, most[..., None], axis=2)[..., 0] > -np.inf
    return np.where(seen, (most - _STARTS) / _LENGTHS, np.nan)


def _unrest(poses: FloatArray) -> FloatArray:
    """Spreads of lengths, then of places on the ground, then how much lengths have changed since
    P1, then the wrists' way from one to the other, shape (n_swings, n_segments + n_standing * 2 +
    (n_segments + 2) * n_stretched_at).

    ``poses`` has shape (n_swings, n_points, n_grid, 2).
    """
    along = poses.swapaxes(2, 3)[..., : grid_index(8.0) + 1]
    apart = along.take(_STARTS_OF, axis=1) - along.take(_ENDS_OF, axis=1)
    lengths = np.sqrt(squared_length(apart.swapaxes(0, 2))).swapaxes(0, 1)
    places = along.take(_STANDING, axis=1)[..., : grid_index(7.0) + 1]
    way = along[:, Point.LEAD_WRIST] - along[:, Point.TRAIL_WRIST]
    told = np.concatenate([lengths, way], axis=1)
    changed = told.take(_STRETCHED, axis=2) - told[..., :1]
    parts = [spread(lengths), spread(places), changed]
    return np.concatenate([part.reshape(len(poses), -1) for part in parts], axis=1)


def _address(poses: FloatArray) -> FloatArray:
    """Joints about the middle of the ankles at P1, shape (n_swings, n_joints * 2)."""
    pose = poses[:, :, 0]
    feet = midpoint(pose[:, Point.LEAD_ANKLE], pose[:, Point.TRAIL_ANKLE])
    about = pose.take(_JOINTS, axis=1) - feet[:, None]
    return about.reshape(len(poses), -1)


def fingerprint(names: Sequence[str]) -> str:
    """Twelve hex digits that stand for some features, by their names and order."""
    return hashlib.sha256("\n".join(names).encode()).hexdigest()[:12]
