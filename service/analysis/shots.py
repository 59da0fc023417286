"""Films that were cut together: the shot that holds the swing is analysed, and told of in the film.

A shot is what was filmed in one go. The swing to analyse is chosen among those of all shots as it
is among those of one; joints of one shot tell nothing of another. A film that runs back the way it
came, as loops of apps do, has a shot each way.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import isfinite
from typing import Final

import numpy as np

from service.analysis.events.cuts import find_all_cuts
from service.analysis.events.detection import Downswing, choose
from service.analysis.laid_out import LaidOut, lay_out
from service.analysis.pose.geometry import distance
from service.analysis.pose.held import held
from service.analysis.pose.points import Point
from service.analysis.pose.rows import row_median
from service.analysis.pose.stature import body_heights
from service.analysis.types import (
    BoolArray,
    Finding,
    FloatArray,
    Level,
    Moment,
    Position,
    Remark,
    SwingAnalysis,
    SwingRecording,
    SwingSpan,
)

_FEWEST_FRAMES: Final[int] = 8
"""Frames of a shot in which a swing is looked for."""

_ENOUGH_FRAMES: Final[int] = 60
"""From which the player's size is told well enough for this."""
_AS_BEFORE: Final[float] = 0.015
"""Body heights, the median of all joints, within which a frame shows the player as another does."""
_MOSTLY: Final[float] = 0.95
"""Share of the frames of a film that runs back in which its two ways agree so."""
_GOES: Final[float] = 0.3
"""Body heights that a wrist goes from its place meanwhile; who stands still looks alike anyway."""
_ASIDE: Final[float] = 0.25
"""Share of the extent of all that is seen by which the corner where a source puts joints that it
did not see lies away from it."""
_FEWEST_ASIDE: Final[int] = 2
"""Points told at that very corner, at least."""
_WRISTS: Final = [Point.LEAD_WRIST, Point.TRAIL_WRIST]


@dataclass(frozen=True)
class Shot:
    """The part of a film that is analysed; of a film without cuts all of it.

    ``recording`` has a clock of its own; ``first_frame`` and ``film`` put it back.
    """

    recording: SwingRecording
    film: SwingRecording
    first_frame: int = 0

    def told_of_film(self, analysis: SwingAnalysis) -> SwingAnalysis:
        """What was told of the shot, by the frames and the clock of the film."""
        if len(self.recording.times) == len(self.film.times):
            return analysis
        by = _Shift(self.first_frame, float(self.film.times[self.first_frame]))
        coordinate = np.full(len(self.film.times), np.nan)
        last = self.first_frame + len(self.recording.times)
        if analysis.coordinate.size:
            coordinate[self.first_frame : last] = analysis.coordinate
        stop = analysis.stopped_at
        return replace(
            analysis,
            swings=tuple(by.span(span) for span in analysis.swings),
            positions=tuple(by.position(position) for position in analysis.positions),
            coordinate=coordinate if analysis.coordinate.size else analysis.coordinate,
            findings=tuple(by.finding(finding) for finding in analysis.findings),
            times=self.film.times,
            stopped_at=stop
            and replace(
                stop,
                frame=None if stop.frame is None else stop.frame + by.frames,
                time=None if stop.time is None else stop.time + by.seconds,
            ),
        )


def the_shots(films: Sequence[SwingRecording]) -> list[Shot]:
    """The shot of each film that holds the swing to analyse; the longest where none holds one."""
    films = [_without_corner(film) for film in films]
    some = [film.points[:: 1 + len(film.times) // _ENOUGH_FRAMES] for film in films]
    seen = [
        (k, scale) for k, scale in enumerate(body_heights(some)) if isfinite(scale) and scale > 0.0
    ]
    shots = [Shot(film, film) for film in films]
    if not seen:
        return shots
    found = find_all_cuts(
        [(films[k].points, films[k].confidence, films[k].times, scale) for k, scale in seen]
    )
    kept = [_without(films[k], own.strayed) for (k, _), own in zip(seen, found, strict=True)]
    lost = held([(film.points, scale) for film, (_, scale) in zip(kept, seen, strict=True)])
    for (k, scale), film, own, hands in zip(seen, kept, found, lost, strict=True):
        shots[k] = _the_shot(_without_held(film, hands), films[k], own.shots, scale)
    return shots


def _the_shot(
    whole: SwingRecording, film: SwingRecording, parts: list[slice], scale: float
) -> Shot:
    """The shot of a film that is cut into some; ``whole`` is the film without what is lost."""
    back = len(parts) == 1 and _runs_back(whole.points, scale)
    if back:
        half = (len(whole.times) + 1) // 2
        parts = [slice(0, half), slice(half, len(whole.times))]
    if len(parts) == 1:
        return Shot(whole, film)
    shots = [replace(_part(whole, part), film=film) for part in parts]
    chosen = _forward(shots) if back else _chosen(shots)
    remark = _remark(chosen, parts, "runs back" if back else "jumps")
    told = replace(chosen.recording, remarks=(*whole.remarks, remark))
    return replace(chosen, recording=told)


def _runs_back(points: FloatArray, scale: float) -> bool:
    """Whether a film shows a player who moves, and then the same backwards.

    Parameters
    ----------
    points : array of shape (n_frames, n_points, 2)
    scale : float
        The player's height in their unit.
    """
    near = _AS_BEFORE * scale
    if not row_median(distance(points[:1], points[-1:]))[0] < near:
        return False
    half = points[: len(points) // 2]
    alike = row_median(distance(half, points[::-1][: len(half)])) < near
    wrists = half.take(_WRISTS, axis=1)
    goes = bool((distance(wrists, wrists[:1]) > _GOES * scale).any())
    return goes and int(np.count_nonzero(alike)) >= _MOSTLY * len(half)


def _without_corner(film: SwingRecording) -> SwingRecording:
    """The film without points that were not seen and are told at 0, 0 or another corner."""
    every = film.points.reshape(-1, 2)
    x, y = np.ascontiguousarray(every.T)
    corner = np.fmin.reduce(x), np.fmin.reduce(y)
    at_corner = (x == corner[0]) & (y == corner[1])
    if np.count_nonzero(at_corner) < _FEWEST_ASIDE:
        return film
    rest = every[~at_corner & ~np.isnan(x)]
    extent = (np.fmax.reduce(rest) - np.fmin.reduce(rest)).max() if rest.size else 0.0
    if not extent or distance(rest, np.array([corner])).min() < _ASIDE * extent:
        return film
    lost = at_corner.reshape(film.confidence.shape)
    return replace(
        film,
        points=np.where(lost[..., None], np.nan, film.points),
        confidence=np.where(lost, 0.0, film.confidence),
    )


def _without(film: SwingRecording, strayed: list[slice]) -> SwingRecording:
    """The film without what was seen elsewhere than where the player is."""
    if not strayed:
        return film
    points, confidence = film.points.copy(), film.confidence.copy()
    for frames in strayed:
        points[frames], confidence[frames] = np.nan, 0.0
    at = " and ".join(f"{film.times[frames.start]:.2f} s" for frames in strayed)
    remark = Remark(
        "player_left",
        Level.WARNING,
        f"At {at} the joints leap away and come back, as where somebody else is followed for a "
        "moment: those frames are left out.",
        "Film the player alone, or send the points of one person.",
    )
    return replace(film, points=points, confidence=confidence, remarks=(*film.remarks, remark))


def _without_held(film: SwingRecording, lost: BoolArray | None) -> SwingRecording:
    """The film without hands that are shown where they were last seen."""
    if lost is None:
        return film
    frames = np.flatnonzero(lost.any(axis=1))
    if not frames.size:
        return film
    points, confidence = film.points.copy(), film.confidence.copy()
    points[lost], confidence[lost] = np.nan, 0.0
    starts = frames[np.diff(frames, prepend=-2) > 1] - 1
    at = " and ".join(f"{film.times[frame]:.2f} s" for frame in starts)
    remark = Remark(
        "hands_held",
        Level.WARNING,
        f"From {at} on the hands stay where they were and then leap, as where a pose model has "
        "lost them and goes on showing their last place: those frames of the hands are left out.",
        "Leave out points that were not seen (null).",
    )
    return replace(film, points=points, confidence=confidence, remarks=(*film.remarks, remark))


def _part(film: SwingRecording, part: slice) -> Shot:
    times = film.times[part]
    cut = replace(
        film,
        points=film.points[part],
        confidence=film.confidence[part],
        times=times - times[0],
    )
    return Shot(cut, film, part.start)


def _found(shots: list[Shot]) -> list[tuple[Shot, Downswing]]:
    """Every swing of some shots."""
    found: list[tuple[Shot, Downswing]] = []
    for shot in shots:
        if len(shot.recording.times) >= _FEWEST_FRAMES:
            laid = lay_out(shot.recording)
            found += [(shot, swing) for swing in laid.swings] if isinstance(laid, LaidOut) else []
    return found


def _forward(shots: list[Shot]) -> Shot:
    """Of a film's way there and back the one that runs forward, in which hands come down faster
    than they went up."""
    found = _found(shots)
    return min(found, key=lambda each: _haste(*each))[0] if found else _chosen(shots)


def _haste(shot: Shot, swing: Downswing) -> float:
    """Time of the way down over that of the way up."""
    times, low = shot.recording.times, swing.end if swing.low is None else swing.low
    up = float(times[swing.top] - times[swing.start])
    return float(times[low] - times[swing.top]) / up if up > 0.0 else float("inf")


def _chosen(shots: list[Shot]) -> Shot:
    """The shot with the swing to analyse: a whole one, if there is any."""
    found = _found(shots)
    whole = [each for each in found if each[1].low is not None and each[1].top > each[1].start]
    candidates = whole or found
    if not candidates:
        return max(shots, key=lambda shot: len(shot.recording.times))
    swing = choose(tuple(swing for _, swing in candidates), shots[0].recording.intent)
    return next(shot for shot, each in candidates if each is swing)


def _remark(chosen: Shot, parts: list[slice], does: str) -> Remark:
    times, first = chosen.film.times, chosen.first_frame
    last = first + len(chosen.recording.times) - 1
    at = " and ".join(f"{times[part.start]:.2f} s" for part in parts[1:])
    told = {
        "jumps": f"The picture jumps at {at}, as where films are joined",
        "runs back": f"From {at} on the film runs back the way it came, as loops of apps do",
    }
    return Remark(
        "film_cut",
        Level.WARNING,
        f"{told[does]}: only what lies between {times[first]:.2f} s and {times[last]:.2f} s is "
        "analysed.",
        "Send each swing as a clip of its own, from before the takeaway to the finish.",
    )


@dataclass(frozen=True)
class _Shift:
    """From the frames and the clock of a shot to those of the film."""

    frames: int
    seconds: float

    def position(self, position: Position) -> Position:
        if position.time is None or position.frame is None:
            return position
        return replace(
            position, time=position.time + self.seconds, frame=position.frame + self.frames
        )

    def span(self, span: SwingSpan) -> SwingSpan:
        return replace(
            span,
            first_frame=span.first_frame + self.frames,
            last_frame=span.last_frame + self.frames,
            start=span.start + self.seconds,
            end=span.end + self.seconds,
        )

    def finding(self, finding: Finding) -> Finding:
        most, span = finding.shows_most, finding.span
        return replace(
            finding,
            shows_most=most and self.moment(most),
            span=span and (self.moment(span[0]), self.moment(span[1])),
        )

    def moment(self, moment: Moment) -> Moment:
        return replace(moment, frame=moment.frame + self.frames, time=moment.time + self.seconds)
