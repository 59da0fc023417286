"""What a measure is, how one is taken with its uncertainty, and the general ones.

A measure reads a :class:`~service.analysis.events.normalized.NormalizedSwing`, whose samples
carry the keypoint noise and the timing uncertainty; its own uncertainty is the spread over the
samples. Lengths are told in percent of body height unless a measure names another unit.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property
from math import ceil, floor, sqrt
from typing import Final

import numpy as np

from service.analysis.events.normalized import GRID, NormalizedSwing, grid_index
from service.analysis.pose import geometry
from service.analysis.pose.points import Point
from service.analysis.types import FloatArray, Measurement, Position, Reason, Source, View

BODY_PERCENT: Final[str] = "% of body height"
BOTH_VIEWS: Final[tuple[View, ...]] = (View.FACE_ON, View.DOWN_THE_LINE)
_LEAST_SEEN: Final[float] = 0.7
"""Share of a measure's window in which its points must be seen."""


Signal = Callable[[NormalizedSwing], FloatArray]


class Reduce(StrEnum):
    """How a measure's signal over its window becomes one number."""

    MAX = "max"
    MIN = "min"
    MEAN = "mean"


@dataclass(frozen=True)
class Measure:
    """Something measured over a window of positions.

    Attributes
    ----------
    name, title, unit, description
        ``unit`` is spelled out (``degrees``, ``% of body height``, ``seconds`` ...).
    views
        The camera views in which it can be told.
    needs
        The points without which it can't be measured.
    start, end
        Window in position coordinates; equal for a measure at one position.
    reduce
        How the values in the window become one.
    signal
        Function of a :class:`NormalizedSwing` giving an array of shape
        (n_samples, n_grid), in ``unit``.
    against
        Position coordinates outside the window that it also looks at.
    observed
        Numbers of positions that must be observed for it, not inferred.
    """

    name: str
    title: str
    unit: str
    description: str
    views: tuple[View, ...]
    needs: tuple[Point, ...]
    start: float
    end: float
    reduce: Reduce
    signal: Signal
    against: tuple[float, ...] = ()
    observed: tuple[int, ...] = ()

    @property
    def at(self) -> str:
        """Its window in words: ``P4`` or ``P5-P7``."""
        start, end = f"P{self.start:g}", f"P{self.end:g}"
        return start if start == end else f"{start}-{end}"

    @cached_property
    def window(self) -> slice:
        """Its window as a slice of the grid."""
        return slice(grid_index(self.start), grid_index(self.end) + 1)

    @cached_property
    def needs_positions(self) -> tuple[int, ...]:
        """The positions that its window's edges and its references lie at or between."""
        edges = (*self.against, self.start, self.end)
        return tuple(sorted({n for edge in edges for n in (floor(edge), ceil(edge))}))


@dataclass(frozen=True)
class MeasuredValue:
    """A measure taken on one swing: the number, its spread, and its best signal.

    ``signal`` has shape (n_grid,).
    """

    value: float
    uncertainty: float
    signal: FloatArray


def take(
    measure: Measure,
    swing: NormalizedSwing,
    positions: tuple[Position, ...],
    signals: dict[Signal, FloatArray] | None = None,
) -> MeasuredValue | Reason:
    """Take one measure, or say why it can't be taken.

    ``signals`` remembers the signals of this swing, which several measures share.
    """
    reason = _obstacle(measure, swing, positions)
    if reason is not None:
        return reason
    known = {} if signals is None else signals
    if measure.signal not in known:
        known[measure.signal] = measure.signal(swing)
    signal = known[measure.signal]
    window = signal[:, measure.window]
    seen = window
    if np.isnan(window.sum()):
        seen = window[:, ~np.isnan(window).any(axis=0)]
    if seen.shape[1] < _LEAST_SEEN * window.shape[1]:
        return Reason(
            "points_too_close",
            f"{measure.title} has no clear value in this picture at {measure.at}.",
        )
    values = _REDUCERS[measure.reduce](seen, axis=1)
    apart = values[1:] - values[0]
    if measure.unit == "degrees":
        apart = (apart + 180.0) % 360.0 - 180.0
    return MeasuredValue(float(values[0]), _spread(apart), signal[0])


def _spread(values: FloatArray) -> float:
    """Standard deviation, in a fraction of the time that numpy takes for so few values."""
    off = values - values.sum() / len(values)
    return sqrt(off @ off / len(values))


def measure_all(
    measures: tuple[Measure, ...], swing: NormalizedSwing, positions: tuple[Position, ...]
) -> tuple[dict[str, MeasuredValue | Reason], tuple[Measurement, ...]]:
    """Take every measure: by name for the judging, and as the records of the answer."""
    signals: dict[Signal, FloatArray] = {}
    taken = {m.name: take(m, swing, positions, signals) for m in measures}
    return taken, tuple(_record(m, taken[m.name]) for m in measures)


def _record(measure: Measure, taken: MeasuredValue | Reason) -> Measurement:
    value, spread, reason = (
        (None, None, taken) if isinstance(taken, Reason) else (taken.value, taken.uncertainty, None)
    )
    return Measurement(measure.name, measure.title, measure.unit, measure.at, value, spread, reason)


def _obstacle(
    measure: Measure, swing: NormalizedSwing, positions: tuple[Position, ...]
) -> Reason | None:
    if swing.view not in measure.views:
        names = " or ".join(v.value.replace("_", " ") for v in measure.views)
        return Reason("view", f"{measure.title} can only be told {names}.")
    for number in measure.needs_positions:
        if positions[number - 1].time is None:
            return _position_missing(measure, positions[number - 1])
    for number in measure.observed:
        if positions[number - 1].source is not Source.OBSERVED:
            return Reason(
                "position_inferred",
                f"{measure.title} needs P{number} to be seen; the clip may start after it.",
            )
    unseen = [p for p in measure.needs if _unseen(swing, p, measure)]
    if unseen:
        names = ", ".join(p.label for p in unseen)
        return Reason("points_not_seen", f"Not seen well enough for this: {names}.")
    return None


def _unseen(swing: NormalizedSwing, point: Point, measure: Measure) -> bool:
    if not swing.gaps[point]:
        return False
    lost = swing.missing[point]
    share = np.count_nonzero(lost[measure.window]) / len(lost[measure.window])
    return bool(share > 1.0 - _LEAST_SEEN or any(lost[grid_index(at)] for at in measure.against))


def _position_missing(measure: Measure, missing: Position) -> Reason:
    code = missing.reason.code if missing.reason else "position_not_found"
    why = f" {missing.reason.text}" if missing.reason else ""
    return Reason(code, f"{measure.title} needs {missing.name}, which was not found.{why}")


_REDUCERS: Final[dict[Reduce, Callable[..., FloatArray]]] = {
    Reduce.MAX: np.ndarray.max,
    Reduce.MIN: np.ndarray.min,
    Reduce.MEAN: np.ndarray.mean,
}


def high(values: FloatArray) -> FloatArray:
    """A value few exceed, for each sample: the 90th percentile of what is not NaN.

    Parameters
    ----------
    values : array of shape (n_samples, n_grid)

    Returns
    -------
    array of shape (n_samples, 1)
    """
    in_order = np.sort(values, axis=1)  # NaN goes last
    count = np.count_nonzero(~np.isnan(values), axis=1)
    index = np.maximum((0.9 * (count - 1)).astype(np.intp), 0)
    return np.take_along_axis(in_order, index[:, None], axis=1)


def against_address(signal: FloatArray) -> FloatArray:
    """Change of a length since P1 in percent of body height.

    Parameters
    ----------
    signal : array of shape (n_samples, n_grid)
        In body heights.
    """
    return 100.0 * (signal - signal[:, :1])


def constant(values: FloatArray) -> FloatArray:
    """One value for each sample as a signal that does not change along the swing."""
    return np.repeat(values[:, None], len(GRID), axis=1)


def mid_shoulders(swing: NormalizedSwing) -> FloatArray:
    """Middle of the shoulders, shape (n_samples, n_grid, 2)."""
    return geometry.midpoint(swing.point(Point.LEAD_SHOULDER), swing.point(Point.TRAIL_SHOULDER))


def mid_hips(swing: NormalizedSwing) -> FloatArray:
    """Middle of the hips, shape (n_samples, n_grid, 2)."""
    return geometry.midpoint(swing.point(Point.LEAD_HIP), swing.point(Point.TRAIL_HIP))


def mid_ankles(swing: NormalizedSwing) -> FloatArray:
    """Middle of the ankles, shape (n_samples, n_grid, 2)."""
    return geometry.midpoint(swing.point(Point.LEAD_ANKLE), swing.point(Point.TRAIL_ANKLE))


def over_lead_foot(swing: NormalizedSwing, path: FloatArray) -> FloatArray:
    """A path against the lead ankle, which stays put until impact when a hand-held camera does not.

    Parameters
    ----------
    path : array of shape (n_samples, n_grid, 2)
    """
    return path - swing.point(Point.LEAD_ANKLE)


def hands(swing: NormalizedSwing) -> FloatArray:
    """Middle of the wrists, shape (n_samples, n_grid, 2)."""
    return geometry.midpoint(swing.point(Point.LEAD_WRIST), swing.point(Point.TRAIL_WRIST))


def shaft(swing: NormalizedSwing) -> tuple[FloatArray, FloatArray]:
    """Grip and clubhead ends of the shaft, each of shape (n_samples, n_grid, 2).

    The lead wrist, which holds the grip, stands in where the grip itself is not given.
    """
    butt = swing.point(Point.GRIP)
    for other in (Point.GRIP_END, Point.LEAD_WRIST):
        butt = np.where(np.isnan(butt), swing.point(other), butt)
    return butt, swing.point(Point.CLUBHEAD)


def lead_arm_elevation(swing: NormalizedSwing) -> FloatArray:
    """Elevation of the lead arm above the horizontal in degrees, the same from either view.

    The sine of a segment's elevation is its rise over its length; its length is taken
    from the frames in which it lies most nearly across the line of sight.
    """
    shoulder, wrist = swing.point(Point.LEAD_SHOULDER), swing.point(Point.LEAD_WRIST)
    seen_length = geometry.distance(shoulder, wrist)
    length = high(seen_length)
    rise = (wrist - shoulder)[..., 1] / np.maximum(length, seen_length)
    return np.asarray(np.degrees(np.arcsin(rise)))


def turn_from_width(swing: NormalizedSwing, lead: Point, trail: Point) -> FloatArray:
    """Turn of a body line away from square in degrees, from how narrow it looks face-on.

    A level line of width w looks w cos(turn) wide; of a line that also tilts, only the
    part left level by the tilt, sqrt(w^2 - rise^2), narrows with the turn. The full width
    is the one at address. It says how far, not which way, and is coarse below 30 degrees.
    """
    line = swing.point(lead) - swing.point(trail)
    full = geometry.distance(swing.point_at(lead, 1.0), swing.point_at(trail, 1.0))[:, None]
    level = np.sqrt(np.clip(full**2 - line[..., 1] ** 2, 1e-9, None))
    return np.asarray(np.degrees(np.arccos(np.clip(np.abs(line[..., 0]) / level, 0.0, 1.0))))


def chest_turn(swing: NormalizedSwing) -> FloatArray:
    """Turn of the shoulder line in degrees (see :func:`turn_from_width`)."""
    return turn_from_width(swing, Point.LEAD_SHOULDER, Point.TRAIL_SHOULDER)


def pelvis_turn(swing: NormalizedSwing) -> FloatArray:
    """Turn of the hip line in degrees (see :func:`turn_from_width`)."""
    return turn_from_width(swing, Point.LEAD_HIP, Point.TRAIL_HIP)


def head_turn(swing: NormalizedSwing) -> FloatArray:
    """Turn of the head toward the target in degrees, face-on.

    The nose stands before the line of the ears by about 0.75 of their distance (head
    dimensions from memory), so its sideways offset is to that depth as the sine of the
    turn is to one, and the ears' distance in the picture gives the cosine.
    """
    lead, trail = swing.point(Point.LEAD_EAR), swing.point(Point.TRAIL_EAR)
    nose = swing.point(Point.NOSE)
    sine = (nose - geometry.midpoint(lead, trail))[..., 0] / _NOSE_DEPTH
    cosine = (lead - trail)[..., 0]
    return np.asarray(np.degrees(np.arctan2(sine, cosine)))


_NOSE_DEPTH: Final[float] = 0.75


def wrist_angle(swing: NormalizedSwing) -> FloatArray:
    """Angle between the lead forearm and the shaft, 180 when they are in one line."""
    _, clubhead = shaft(swing)
    return geometry.joint_angle(
        swing.point(Point.LEAD_ELBOW), swing.point(Point.LEAD_WRIST), clubhead
    )


def shaft_direction(swing: NormalizedSwing) -> FloatArray:
    """Direction from grip to clubhead in degrees."""
    return geometry.direction(*shaft(swing))


def tempo_ratio(swing: NormalizedSwing) -> FloatArray:
    """Backswing time (P1 to P4) over downswing time (P4 to P7)."""
    up = swing.time_at(4.0) - swing.time_at(1.0)
    return constant(up / np.maximum(swing.time_at(7.0) - swing.time_at(4.0), 1e-3))


def _flexion(
    shoulder: Point, elbow: Point, wrist: Point
) -> Callable[[NormalizedSwing], FloatArray]:
    return lambda swing: geometry.flexion(
        swing.point(shoulder), swing.point(elbow), swing.point(wrist)
    )


LEAD_ARM: Final = (Point.LEAD_SHOULDER, Point.LEAD_ELBOW, Point.LEAD_WRIST)
TRAIL_ARM: Final = (Point.TRAIL_SHOULDER, Point.TRAIL_ELBOW, Point.TRAIL_WRIST)
SHOULDERS: Final = (Point.LEAD_SHOULDER, Point.TRAIL_SHOULDER)
HIPS: Final = (Point.LEAD_HIP, Point.TRAIL_HIP)
WRISTS: Final = (Point.LEAD_WRIST, Point.TRAIL_WRIST)
ANKLES: Final = (Point.LEAD_ANKLE, Point.TRAIL_ANKLE)
lead_elbow_flexion = _flexion(*LEAD_ARM)
trail_elbow_flexion = _flexion(*TRAIL_ARM)


def trunk_lean(swing: NormalizedSwing) -> FloatArray:
    """Lean of the trunk from the vertical in degrees: toward the ball down the line (the
    spine's bend from the hips), away from the target face-on (its side bend)."""
    trunk = mid_shoulders(swing) - mid_hips(swing)
    lean = np.degrees(np.arctan2(trunk[..., 0], trunk[..., 1]))
    return np.asarray(lean if swing.view is View.DOWN_THE_LINE else -lean)


def _at(
    position: float,
    name: str,
    title: str,
    unit: str,
    description: str,
    views: tuple[View, ...],
    needs: tuple[Point, ...],
    signal: Signal,
    against: tuple[float, ...] = (),
) -> Measure:
    return Measure(
        f"{name}_p{position:g}",
        title,
        unit,
        description,
        views,
        needs,
        position,
        position,
        Reduce.MEAN,
        signal,
        against,
    )


_FACE_ON: Final = (View.FACE_ON,)
_WRIST: Final = (Point.LEAD_ELBOW, Point.LEAD_WRIST, Point.CLUBHEAD)

TEMPO_RATIO: Final = Measure(
    "tempo_ratio",
    "Tempo ratio",
    "times",
    "Time of the backswing (P1 to P4) over the time of the downswing (P4 to P7).",
    BOTH_VIEWS,
    (),
    4.0,
    7.0,
    Reduce.MEAN,
    tempo_ratio,
    against=(1.0,),
    observed=(1,),
)


def _general() -> tuple[Measure, ...]:
    backswing = Measure(
        "backswing_time",
        "Backswing time",
        "seconds",
        "Time from P1 to P4.",
        BOTH_VIEWS,
        (),
        1.0,
        4.0,
        Reduce.MEAN,
        lambda swing: constant(swing.time_at(4.0) - swing.time_at(1.0)),
        observed=(1,),
    )
    downswing = Measure(
        "downswing_time",
        "Downswing time",
        "seconds",
        "Time from P4 to P7.",
        BOTH_VIEWS,
        (),
        4.0,
        7.0,
        Reduce.MEAN,
        lambda swing: constant(swing.time_at(7.0) - swing.time_at(4.0)),
    )
    turns = [
        _at(
            position,
            name,
            title,
            "degrees",
            "From how narrow the line looks against address; coarse below 30 degrees.",
            _FACE_ON,
            pair,
            signal,
            (1.0,),
        )
        for position in (4.0, 7.0, 9.0)
        for name, title, pair, signal in (
            ("chest_turn", "Chest turn", SHOULDERS, chest_turn),
            ("pelvis_turn", "Pelvis turn", HIPS, pelvis_turn),
        )
    ]
    elbows = [
        _at(
            position,
            f"{side}_elbow_flexion",
            f"{side.capitalize()} elbow flexion",
            "degrees",
            "0 is a straight arm, as it looks in the picture.",
            BOTH_VIEWS,
            arm,
            signal,
        )
        for position in (4.0, 7.0, 8.0)
        for side, arm, signal in (
            ("lead", LEAD_ARM, lead_elbow_flexion),
            ("trail", TRAIL_ARM, trail_elbow_flexion),
        )
    ]
    wrists = [
        _at(
            position,
            "lead_arm_to_shaft",
            "Lead-arm-to-shaft angle",
            "degrees",
            "180 when lead forearm and shaft are in one line, as it looks in the picture.",
            BOTH_VIEWS,
            _WRIST,
            wrist_angle,
        )
        for position in (4.0, 5.0, 6.0, 7.0, 8.0)
    ]
    leans = [
        _at(
            position,
            "trunk_lean",
            "Trunk lean",
            "degrees",
            "Down the line the bend of the spine toward the ball; face-on its lean away from "
            "the target.",
            BOTH_VIEWS,
            (*SHOULDERS, *HIPS),
            trunk_lean,
        )
        for position in (1.0, 4.0, 7.0)
    ]
    heads = [
        _at(
            position,
            "head_turn",
            "Head turn",
            "degrees",
            "Turn of the face toward the target.",
            _FACE_ON,
            (Point.NOSE, Point.LEAD_EAR, Point.TRAIL_EAR),
            head_turn,
        )
        for position in (4.0, 7.0, 9.0)
    ]
    arms = [
        _at(
            4.0,
            "lead_arm_elevation",
            "Elevation of the lead arm",
            "degrees",
            "Above the horizontal; 0 is parallel to the ground. A camera that stands close "
            "overrates it down the line.",
            BOTH_VIEWS,
            (Point.LEAD_SHOULDER, Point.LEAD_WRIST),
            lead_arm_elevation,
        )
    ]
    shafts = [
        _at(
            position,
            "shaft_direction",
            "Shaft direction",
            "degrees",
            "From grip to clubhead in the picture: 0 toward the target or the ball, 90 up.",
            BOTH_VIEWS,
            (Point.LEAD_WRIST, Point.CLUBHEAD),
            shaft_direction,
        )
        for position in (4.0, 4.5, 5.0)
    ]
    return (backswing, downswing, *leans, *turns, *heads, *elbows, *wrists, *arms, *shafts)


GENERAL: Final[tuple[Measure, ...]] = _general()
"""Measures that belong to no fault."""
