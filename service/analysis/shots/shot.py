"""A shot, and what was told of it by the frames and the clock of its film."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from service.analysis.types import (
    Finding,
    FloatArray,
    Moment,
    Position,
    StoppedAt,
    SwingAnalysis,
    SwingRecording,
    SwingSpan,
)


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
        return replace(
            analysis,
            swings=tuple(by.span(span) for span in analysis.swings),
            positions=tuple(by.position(position) for position in analysis.positions),
            coordinate=self._coordinate(analysis.coordinate),
            findings=tuple(by.finding(finding) for finding in analysis.findings),
            times=self.film.times,
            stopped_at=analysis.stopped_at and by.stop(analysis.stopped_at),
        )

    def _coordinate(self, own: FloatArray) -> FloatArray:
        """The position coordinate of the film's frames, NaN outside the shot; none stays none."""
        if not own.size:
            return own
        coordinate = np.full(len(self.film.times), np.nan)
        coordinate[self.first_frame : self.first_frame + len(own)] = own
        return coordinate


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

    def stop(self, stop: StoppedAt) -> StoppedAt:
        return replace(
            stop,
            frame=None if stop.frame is None else stop.frame + self.frames,
            time=None if stop.time is None else stop.time + self.seconds,
        )

    def moment(self, moment: Moment) -> Moment:
        return replace(moment, frame=moment.frame + self.frames, time=moment.time + self.seconds)
