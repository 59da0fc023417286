"""A recording becomes a swing laid out: found, and its poses turned into the canonical frame."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import isfinite

import numpy as np

from service.analysis.events.detection import (
    Downswing,
    choose,
    find_downswings,
    why_none,
)
from service.analysis.events.landmark_paths import Tracks, follow, follow_all
from service.analysis.events.lost_limbs import without_leaping_feet, without_lost_wrists
from service.analysis.events.orientation import Orientation, orient, to_canonical
from service.analysis.footage import inspect_clip
from service.analysis.pose.conditioning import WRISTS, Conditioned, condition_all
from service.analysis.pose.geometry import frame_rate
from service.analysis.pose.keypoint_error import pose_error
from service.analysis.pose.points import ANATOMICAL, swap_sides
from service.analysis.pose.repairs.held import left_behind, put_between
from service.analysis.pose.stature import body_heights
from service.analysis.types import (
    BoolArray,
    FloatArray,
    FootageQuality,
    Handedness,
    Reason,
    SwingAnalysis,
    SwingRecording,
)


@dataclass(frozen=True)
class LaidOut:
    """A swing found and turned into the canonical frame, nothing of it measured yet.

    ``poses`` are canonical points of shape (n_frames, n_points, 2) in body heights of ``scale``,
    ``smoothed`` is how far their source smooths them
    (:class:`~service.analysis.pose.keypoint_error.PoseError`); others as in
    :class:`~service.analysis.measured.MeasuredSwing`.
    """

    recording: SwingRecording
    conditioned: Conditioned
    scale: float
    poses: FloatArray
    tracks: Tracks
    swings: Sequence[Downswing]
    downswing: Downswing
    orientation: Orientation
    observed: BoolArray
    point_error: FloatArray
    smoothed: float


def lay_out(recording: SwingRecording) -> LaidOut | SwingAnalysis:
    """What :func:`lay_out_all` makes of one recording."""
    return lay_out_all((recording,))[0]


def lay_out_all(recordings: Sequence[SwingRecording]) -> list[LaidOut | SwingAnalysis]:
    """Condition recordings, all at once, find the swing in each and orient its poses.

    Returns
    -------
    of each a LaidOut, or the analysis itself, with its reason, when there is no swing to judge
    """
    scales = body_heights([recording.points for recording in recordings])
    shown = [isfinite(scale) and scale > 0.0 for scale in scales]
    pairs = zip(recordings, scales, shown, strict=True)
    found = iter(_find_all([(each, scale) for each, scale, seen in pairs if seen]))
    each_seen = zip(recordings, shown, strict=True)
    return [next(found) if seen else _no_body(each) for each, seen in each_seen]


def _find_all(
    recordings: Sequence[tuple[SwingRecording, float]],
) -> Iterator[LaidOut | SwingAnalysis]:
    """Find the swing in each of some recordings, given with the player's height in their unit."""
    conditioned = condition_all(
        [(each.points, each.confidence, each.times, scale) for each, scale in recordings]
    )
    bodies = [
        _steadied(clean, scale) for clean, (_, scale) in zip(conditioned, recordings, strict=True)
    ]
    tracks = follow_all(
        [
            (body, each.times, clean.confidence)
            for body, clean, (each, _) in zip(bodies, conditioned, recordings, strict=True)
        ]
    )
    each_found = zip(recordings, conditioned, bodies, tracks, strict=True)
    for (each, scale), clean, body, paths in each_found:
        yield _find(each, scale, clean, body, paths)


def _steadied(conditioned: Conditioned, scale: float) -> FloatArray:
    """The body in body heights, y up, with less made of the wrists where they are unsure."""
    body = _upright(conditioned.points, scale)
    if conditioned.wrists is not None:
        body[:, WRISTS] = _upright(conditioned.wrists, scale)
    return body


def _upright(points: FloatArray, scale: float) -> FloatArray:
    """Points of shape (n_frames, n_points, 2) in body heights, y up; a copy."""
    body = points / scale
    body[..., 1] *= -1.0
    return body


def _no_body(recording: SwingRecording) -> SwingAnalysis:
    if np.isfinite(recording.points).any():
        reason = Reason(
            "body_not_measurable",
            "Neither a leg, an arm nor the trunk is seen, so the player can't be measured.",
        )
    else:
        reason = Reason(
            "nobody_found",
            "No joint has a place in any frame: the pose estimator found nobody, or its points "
            "were lost on the way.",
        )
    return no_swing(recording, reason, FootageQuality(frame_rate(recording.times), {}))


def _find(
    recording: SwingRecording,
    scale: float,
    conditioned: Conditioned,
    body: FloatArray,
    tracks: Tracks,
) -> LaidOut | SwingAnalysis:
    """Find the swing in a conditioned recording and orient the poses."""
    swings = find_downswings(tracks)
    if not swings and conditioned.wrists is not None:
        body = _upright(conditioned.points, scale)
        tracks = follow(body, recording.times, conditioned.confidence)
        swings = find_downswings(tracks)
    if not swings:
        return no_swing(recording, why_none(tracks), inspect_clip(conditioned, ANATOMICAL))
    chosen = choose(swings, recording.intent)
    body = without_lost_wrists(body, tracks, conditioned.confidence)
    observed = conditioned.observed
    for lost in (left_behind(recording.points, scale), put_between(recording.points, scale)):
        if lost is not None:
            body[lost], observed = np.nan, observed & ~lost
    struck = chosen.end if chosen.low is None else chosen.low
    body = without_leaping_feet(body, slice(chosen.start, chosen.top + 1), struck)
    orientation = orient(body, tracks, chosen, view=recording.view, handedness=recording.handedness)
    canonical = to_canonical(body, orientation)
    error, smoothed = pose_error(conditioned, scale)
    if orientation.handedness.value is Handedness.LEFT:
        observed, error = swap_sides(observed), swap_sides(error[None])[0]
    if orientation.flipped:
        tracks = tracks.mirrored()
    return LaidOut(
        recording,
        conditioned,
        scale,
        canonical,
        tracks,
        swings,
        chosen,
        orientation,
        observed,
        error,
        smoothed,
    )


def no_swing(recording: SwingRecording, reason: Reason, quality: FootageQuality) -> SwingAnalysis:
    """The analysis of a recording in which there is no swing to judge, with the reason."""
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
