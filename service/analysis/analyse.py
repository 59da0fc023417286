"""The whole story in one short function."""

from __future__ import annotations

import numpy as np

from service.analysis.conditioning import body_height, condition
from service.analysis.detection import Downswing, choose, find_downswings, why_none
from service.analysis.faults import MEASURES
from service.analysis.findings import Court, judge_all
from service.analysis.measures import measure_all
from service.analysis.noise import pose_error
from service.analysis.orientation import orient, to_canonical
from service.analysis.phases import lay_out, plot_course
from service.analysis.points import ANATOMICAL, Point, swap_sides
from service.analysis.positions import find_positions
from service.analysis.quality import inspect_clip, inspect_swing
from service.analysis.swing import (
    FloatArray,
    FootageQuality,
    Handedness,
    Position,
    Reason,
    SwingAnalysis,
    SwingRecording,
    SwingSpan,
)
from service.analysis.tracks import follow

_CANONICAL_NAMES = tuple(p.name.lower() for p in Point)


def analyse(recording: SwingRecording) -> SwingAnalysis:
    """Analyse one clip: condition, orient, find positions, measure, judge.

    Returns
    -------
    SwingAnalysis
        With ``swing_found`` false and the reason when the clip holds no golf swing.
    """
    scale = body_height(recording.points)
    if not np.isfinite(scale) or scale <= 0.0:
        reason = Reason(
            "body_not_measurable",
            "Neither a leg, an arm nor the trunk is seen, so the player can't be measured.",
        )
        return _no_swing(reason, FootageQuality(_frame_rate(recording.times), {}))
    conditioned = condition(recording.points, recording.confidence, recording.times, scale=scale)
    body = conditioned.points * np.array([1.0, -1.0]) / scale
    tracks = follow(body, recording.times)
    swings = find_downswings(tracks, recording.intent)
    if not swings:
        return _no_swing(why_none(tracks), inspect_clip(conditioned, ANATOMICAL))
    chosen = choose(swings, recording.intent)
    orientation = orient(body, tracks, chosen, view=recording.view, handedness=recording.handedness)
    view = orientation.view
    canonical = to_canonical(body, orientation)
    left_handed = orientation.handedness.value is Handedness.LEFT
    observed, error = conditioned.observed, pose_error(conditioned, scale)
    if left_handed:
        observed, error = swap_sides(observed), swap_sides(error[None])[0]
    tracks = follow(canonical, recording.times)
    positions = find_positions(canonical, tracks, chosen, view.value, error)
    course = plot_course(recording.times, tracks.hands - tracks.hips, positions)
    swing = lay_out(canonical, recording.times, course, positions, error, view.value)
    taken, measures = measure_all(MEASURES, swing, positions)
    court = Court(swing, taken, recording.times, view, recording.intent)
    return SwingAnalysis(
        swing_found=True,
        reason=None,
        view=view,
        handedness=orientation.handedness,
        quality=inspect_swing(
            canonical, observed, conditioned, positions, orientation, _CANONICAL_NAMES
        ),
        swings=tuple(_span(s, s is chosen, positions, recording.times) for s in swings),
        positions=positions,
        coordinate=course.at(recording.times),
        measures=measures,
        findings=judge_all(court),
    )


def _no_swing(reason: Reason, quality: FootageQuality) -> SwingAnalysis:
    return SwingAnalysis(
        swing_found=False, reason=reason, view=None, handedness=None, quality=quality
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


def _frame_rate(times: FloatArray) -> float:
    return float(1.0 / np.median(np.diff(times)))
