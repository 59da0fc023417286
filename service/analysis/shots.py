"""Films that were cut together: the shot that holds the swing is analysed, and told of in the film.

A shot is what was filmed in one go. The swing to analyse is chosen among those of all shots as it
is among those of one; joints of one shot tell nothing of another.
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
from service.analysis.pose.held import held
from service.analysis.pose.stature import body_heights
from service.analysis.types import (
    BoolArray,
    Finding,
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
    for (k, _), film, own, hands in zip(seen, kept, found, lost, strict=True):
        shots[k] = _the_shot(_without_held(film, hands), films[k], own.shots)
    return shots


def _the_shot(whole: SwingRecording, film: SwingRecording, parts: list[slice]) -> Shot:
    """The shot of a film that is cut into some; ``whole`` is the film without what is lost."""
    if len(parts) == 1:
        return Shot(whole, film)
    shots = [replace(_part(whole, part), film=film) for part in parts]
    chosen = _chosen(shots)
    told = replace(chosen.recording, remarks=(*whole.remarks, _remark(chosen, parts)))
    return replace(chosen, recording=told)


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


def _chosen(shots: list[Shot]) -> Shot:
    """The shot with the swing to analyse: a whole one, if there is any."""
    found: list[tuple[Shot, Downswing]] = []
    for shot in shots:
        if len(shot.recording.times) >= _FEWEST_FRAMES:
            laid = lay_out(shot.recording)
            found += [(shot, swing) for swing in laid.swings] if isinstance(laid, LaidOut) else []
    whole = [each for each in found if each[1].low is not None and each[1].top > each[1].start]
    candidates = whole or found
    if not candidates:
        return max(shots, key=lambda shot: len(shot.recording.times))
    swing = choose(tuple(swing for _, swing in candidates), shots[0].recording.intent)
    return next(shot for shot, each in candidates if each is swing)


def _remark(chosen: Shot, parts: list[slice]) -> Remark:
    times, first = chosen.film.times, chosen.first_frame
    last = first + len(chosen.recording.times) - 1
    jumps = " and ".join(f"{times[part.start]:.2f} s" for part in parts[1:])
    return Remark(
        "film_cut",
        Level.WARNING,
        f"The picture jumps at {jumps}, as where films are joined: only what lies between "
        f"{times[first]:.2f} s and {times[last]:.2f} s is analysed.",
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
