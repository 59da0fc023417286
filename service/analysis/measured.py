"""A recording becomes a measured swing: found, laid out and measured, ready to be judged."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np

from service.analysis.events.detection import (
    NO_DOWNSWING,
    Downswing,
)
from service.analysis.events.normalized import (
    NormalizedSwing,
    PhaseCurve,
    PlacedSwing,
    Places,
    grid_index,
    phase_curve,
    time_normalize,
)
from service.analysis.events.perspective import STAYS, STAYS_AT, hold_still, undo_perspective
from service.analysis.events.positions import Scene, find_all_positions
from service.analysis.faults import MEASURES
from service.analysis.footage import SwingFootage, inspect_clip, inspect_swings
from service.analysis.laid_out import LaidOut, lay_out_all, no_swing
from service.analysis.measures.definition import MeasuredValue
from service.analysis.measures.taking import record, take_all
from service.analysis.pose.points import ANATOMICAL, Point
from service.analysis.pose.stature import statures
from service.analysis.types import (
    Familiarity,
    FloatArray,
    FootageQuality,
    Handedness,
    Intent,
    Judged,
    Measurement,
    Moment,
    Position,
    Reason,
    SwingAnalysis,
    SwingRecording,
    SwingSpan,
    View,
)


@lru_cache(maxsize=64)
def drawn(view: View, seen: tuple[int, ...]) -> Places:
    """Where on the grid the errors of which points are drawn, of those that are seen.

    It is where measures that can be taken look: at all that they need, where the shaft begins if
    that is seen, and at the foot that tells whether the camera moves.
    """
    at = {point: set(STAYS_AT) for point in STAYS}
    for measure in MEASURES:
        if view in measure.views and set(seen).issuperset(measure.needs):
            shaft = (Point.GRIP, Point.GRIP_END) if Point.CLUBHEAD in measure.needs else ()
            for point in (*measure.needs, *shaft):
                at.setdefault(point, set()).update(measure.places)
    return tuple((point, tuple(sorted(at[point]))) for point in sorted(at))


_NAMES = tuple(p.name.lower() for p in Point)


@dataclass(frozen=True)
class MeasuredSwing:
    """A swing found, laid out and measured, but not yet judged.

    Attributes
    ----------
    normalized : NormalizedSwing
        Poses and times along the position coordinate, of this swing alone.
    values : mapping of measure names to what was measured or why it could not be
    positions : P1 to P10
    times : array of shape (n_frames,)
        Seconds of the player's time.
    point_error : array of shape (n_points,)
        One standard deviation of each canonical point on one axis, body heights.
    view, handedness
        Given or inferred.
    curve : PhaseCurve
        The position coordinate over time.
    poses : array of shape (n_frames, n_points, 2)
        Canonical points of every frame, body heights, y up.
    downswing : Downswing
        The one that is analysed.
    familiarity : Familiarity, optional
        How like the training clips of the estimators it is.
    """

    normalized: NormalizedSwing
    values: Mapping[str, MeasuredValue | Reason]
    positions: tuple[Position, ...]
    times: FloatArray
    point_error: FloatArray
    view: Judged[View]
    handedness: Judged[Handedness]
    intent: Intent
    curve: PhaseCurve
    swings: tuple[SwingSpan, ...]
    quality: FootageQuality
    poses: FloatArray
    downswing: Downswing
    familiarity: Familiarity | None = None

    @property
    def measures(self) -> tuple[Measurement, ...]:
        """What was measured as the records of the answer."""
        return tuple(record(measure, self.values[measure.name]) for measure in MEASURES)

    def frames_within(self, first: float, last: float) -> float:
        """How many frames of the footage lie between two position coordinates."""
        start, end = (self._frames[grid_index(p)] for p in (first, last))
        return float(end - start)

    @cached_property
    def _frames(self) -> FloatArray:
        """The frame, and share of one, at each place of the grid."""
        numbers = np.arange(len(self.times))
        return np.asarray(np.interp(self.normalized.times[0], self.times, numbers))

    def moment(self, position: float) -> Moment:
        """The frame nearest to a position coordinate."""
        time = float(self.normalized.times[0, grid_index(position)])
        frame = int(np.argmin(np.abs(self.times - time)))
        return Moment(frame, float(self.times[frame]), position)


def measure_swing(recording: SwingRecording) -> MeasuredSwing | SwingAnalysis:
    """What :func:`measure_swings` makes of one recording."""
    return measure_swings((recording,))[0]


def measure_swings(
    recordings: Sequence[SwingRecording],
) -> list[MeasuredSwing | SwingAnalysis]:
    """Everything before judging: condition, orient, find positions, time-normalize, measure.

    Returns
    -------
    of each recording a MeasuredSwing, or the analysis itself, with its reason, when there is no
    swing to judge
    """
    laid = lay_out_all(recordings)
    found = [each for each in laid if isinstance(each, LaidOut)]
    positions = find_all_positions([_scene(each) for each in found])
    shown = [any(each.time is not None for each in own) for own in positions]
    pairs = zip(found, positions, strict=True)
    told = [pair for pair, seen in zip(pairs, shown, strict=True) if seen]
    measured = iter(_measure([each for each, _ in told], _place(told)))
    answers = (
        next(measured) if seen else _no_position(each)
        for each, seen in zip(found, shown, strict=True)
    )
    return [next(answers) if isinstance(each, LaidOut) else each for each in laid]


def _no_position(laid: LaidOut) -> SwingAnalysis:
    quality = inspect_clip(laid.conditioned, ANATOMICAL)
    return no_swing(laid.recording, NO_DOWNSWING, quality)


def _scene(laid: LaidOut) -> Scene:
    view = laid.orientation.view.value
    return Scene(laid.poses, laid.tracks, laid.downswing, view, laid.point_error)


def _place(swings: Sequence[tuple[LaidOut, tuple[Position, ...]]]) -> list[PlacedSwing]:
    """Swings with their positions, in body heights as measures need them.

    The poses are changed in place.
    """
    sizes = statures(
        [laid.conditioned.points for laid, _ in swings], [laid.scale for laid, _ in swings]
    )
    placed = []
    for (laid, positions), size in zip(swings, sizes, strict=True):
        poses, times = laid.poses, laid.recording.times
        curve = phase_curve(times, laid.tracks.path, positions)
        poses *= laid.scale / size
        swing = PlacedSwing(poses, times, curve, positions, laid.point_error, laid.smoothed)
        placed.append(swing)
    return placed


def _measure(swings: Sequence[LaidOut], placed: Sequence[PlacedSwing]) -> Iterator[MeasuredSwing]:
    """Measure swings that look alike together."""
    alike = dict[tuple[View, tuple[int, ...]], list[int]]()
    for number, (laid, swing) in enumerate(zip(swings, placed, strict=True)):
        alike.setdefault((laid.orientation.view.value, swing.seen), []).append(number)
    told = dict[int, tuple[NormalizedSwing, dict[str, MeasuredValue | Reason]]]()
    for (view, seen), numbers in alike.items():
        own = [placed[number] for number in numbers]
        normalized = hold_still(undo_perspective(time_normalize(own, view, drawn(view, seen))))
        values = take_all(MEASURES, normalized, [each.positions for each in own])
        for k, number in enumerate(numbers):
            told[number] = normalized.one(k), values[k]
    footage = [_footage_of(*each) for each in zip(swings, placed, strict=True)]
    reports = inspect_swings(footage, _NAMES)
    for number, (laid, swing, quality) in enumerate(zip(swings, placed, reports, strict=True)):
        yield _measured(laid, swing, quality, *told[number])


def _footage_of(laid: LaidOut, swing: PlacedSwing) -> SwingFootage:
    return SwingFootage(
        points=swing.points,
        observed=laid.observed,
        conditioned=laid.conditioned,
        positions=swing.positions,
        orientation=laid.orientation,
        intent=laid.recording.intent,
        sent=laid.recording.points,
        times=laid.recording.times,
    )


def _measured(
    laid: LaidOut,
    swing: PlacedSwing,
    quality: FootageQuality,
    normalized: NormalizedSwing,
    values: Mapping[str, MeasuredValue | Reason],
) -> MeasuredSwing:
    times, positions = swing.times, swing.positions
    return MeasuredSwing(
        normalized=normalized,
        values=values,
        positions=positions,
        times=times,
        point_error=laid.point_error,
        view=laid.orientation.view,
        handedness=laid.orientation.handedness,
        intent=laid.recording.intent,
        curve=swing.curve,
        swings=tuple(_span(s, s is laid.downswing, positions, times) for s in laid.swings),
        quality=quality,
        poses=swing.points,
        downswing=laid.downswing,
    )


def _span(
    swing: Downswing, analysed: bool, positions: tuple[Position, ...], times: FloatArray
) -> SwingSpan:
    """From the takeaway to the finish where they are known, else between the hands' lows."""
    first, last = swing.start, swing.end
    if analysed:
        found = [p.frame for p in positions if p.frame is not None]
        first, last = int(found[0]), int(np.ceil(found[-1]))
    return SwingSpan(first, last, float(times[first]), float(times[last]), analysed)
