"""A recording becomes a measured swing: found, laid out and measured, ready to be judged."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np

from service.analysis.events.detection import (
    NO_DOWNSWING,
    Downswing,
    choose,
    find_downswings,
    why_none,
)
from service.analysis.events.landmark_paths import (
    Tracks,
    follow,
    without_leaping_feet,
    without_lost_wrists,
)
from service.analysis.events.normalized import (
    NormalizedSwing,
    PhaseCurve,
    Places,
    grid_index,
    phase_curve,
    time_normalize,
)
from service.analysis.events.orientation import Orientation, orient, to_canonical
from service.analysis.events.perspective import STAYS, STAYS_AT, hold_still, undo_perspective
from service.analysis.events.positions import find_positions
from service.analysis.faults import MEASURES
from service.analysis.footage import inspect_clip, inspect_swing
from service.analysis.measures.definition import MeasuredValue, measure_all
from service.analysis.pose.conditioning import Conditioned, condition
from service.analysis.pose.geometry import frame_rate
from service.analysis.pose.keypoint_error import pose_error
from service.analysis.pose.points import ANATOMICAL, Point, swap_sides
from service.analysis.pose.stature import body_height, stature
from service.analysis.types import (
    BoolArray,
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


def _drawn(view: View) -> Places:
    """Where measures read which points: all that they need, where the shaft begins if that is
    seen, and the foot that tells whether the camera moves."""
    at = {point: set(STAYS_AT) for point in STAYS}
    for measure in MEASURES:
        if view in measure.views:
            shaft = (Point.GRIP, Point.GRIP_END) if Point.CLUBHEAD in measure.needs else ()
            for point in (*measure.needs, *shaft):
                at.setdefault(point, set()).update(measure.places)
    return tuple((point, tuple(sorted(at[point]))) for point in sorted(at))


DRAWN: Final[Mapping[View, Places]] = {view: _drawn(view) for view in View}
"""Where on the grid the errors of which points are drawn."""
_CANONICAL_NAMES = tuple(p.name.lower() for p in Point)


@dataclass(frozen=True)
class MeasuredSwing:
    """A swing found, laid out and measured, but not yet judged.

    Attributes
    ----------
    normalized : NormalizedSwing
        Poses and times along the position coordinate.
    values : mapping of measure names to what was measured or why it could not be
    measures
        The same as the records of the answer.
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
    measures: tuple[Measurement, ...]
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


@dataclass(frozen=True)
class LaidOut:
    """A swing found and turned into the canonical frame, nothing of it measured yet.

    ``poses`` are canonical points of shape (n_frames, n_points, 2) in body heights of ``scale``;
    others as in :class:`MeasuredSwing`.
    """

    conditioned: Conditioned
    scale: float
    poses: FloatArray
    tracks: Tracks
    swings: Sequence[Downswing]
    downswing: Downswing
    orientation: Orientation
    observed: BoolArray
    point_error: FloatArray


def lay_out(recording: SwingRecording) -> LaidOut | SwingAnalysis:
    """Condition a recording, find the swing in it and orient the poses.

    Returns
    -------
    LaidOut, or the analysis itself, with its reason, when there is no swing to judge
    """
    scale = body_height(recording.points)
    if not np.isfinite(scale) or scale <= 0.0:
        reason = Reason(
            "body_not_measurable",
            "Neither a leg, an arm nor the trunk is seen, so the player can't be measured.",
        )
        return _no_swing(recording, reason, FootageQuality(frame_rate(recording.times), {}))
    conditioned = condition(recording.points, recording.confidence, recording.times, scale=scale)
    body = conditioned.points / scale
    body[..., 1] *= -1.0
    tracks = follow(body, recording.times, recording.confidence)
    swings = find_downswings(tracks)
    if not swings:
        return _no_swing(recording, why_none(tracks), inspect_clip(conditioned, ANATOMICAL))
    chosen = choose(swings, recording.intent)
    body = without_lost_wrists(body, recording.times, recording.confidence)
    struck = chosen.end if chosen.low is None else chosen.low
    body = without_leaping_feet(body, slice(chosen.start, chosen.top + 1), struck)
    orientation = orient(body, tracks, chosen, view=recording.view, handedness=recording.handedness)
    canonical = to_canonical(body, orientation)
    observed, error = conditioned.observed, pose_error(conditioned, scale, recording.confidence)
    if orientation.handedness.value is Handedness.LEFT:
        observed, error = swap_sides(observed), swap_sides(error[None])[0]
    if orientation.flipped:
        tracks = tracks.mirrored()
    return LaidOut(
        conditioned, scale, canonical, tracks, swings, chosen, orientation, observed, error
    )


def measure_swing(recording: SwingRecording) -> MeasuredSwing | SwingAnalysis:
    """Everything before judging: condition, orient, find positions, time-normalize, measure.

    Returns
    -------
    MeasuredSwing, or the analysis itself, with its reason, when there is no swing to judge
    """
    laid = lay_out(recording)
    if isinstance(laid, SwingAnalysis):
        return laid
    canonical, conditioned, orientation = laid.poses, laid.conditioned, laid.orientation
    view, error = orientation.view, laid.point_error
    positions = find_positions(canonical, laid.tracks, laid.downswing, view.value, error)
    if all(position.time is None for position in positions):
        return _no_swing(recording, NO_DOWNSWING, inspect_clip(conditioned, ANATOMICAL))
    curve = phase_curve(recording.times, laid.tracks.path, positions)
    canonical *= laid.scale / stature(conditioned.points, laid.scale)
    swing = time_normalize(
        canonical, recording.times, curve, positions, error, view.value, DRAWN[view.value]
    )
    swing = hold_still(undo_perspective(swing))
    values, measures = measure_all(MEASURES, swing, positions)
    return MeasuredSwing(
        normalized=swing,
        values=values,
        measures=measures,
        positions=positions,
        times=recording.times,
        point_error=error,
        view=view,
        handedness=orientation.handedness,
        intent=recording.intent,
        curve=curve,
        swings=tuple(
            _span(s, s is laid.downswing, positions, recording.times) for s in laid.swings
        ),
        quality=inspect_swing(
            canonical,
            laid.observed,
            conditioned,
            positions,
            orientation,
            _CANONICAL_NAMES,
            recording.intent,
        ),
        poses=canonical,
        downswing=laid.downswing,
    )


def _no_swing(recording: SwingRecording, reason: Reason, quality: FootageQuality) -> SwingAnalysis:
    return SwingAnalysis(
        swing_found=False,
        reason=reason,
        view=None,
        handedness=None,
        quality=quality,
        intent=recording.intent,
        club=recording.club,
        times=recording.times,
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
