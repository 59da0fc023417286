"""What a change to a clip is, and what several of them need."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from service.analysis.pose.points import Point, swap_sides
from service.analysis.pose.stature import body_height
from service.analysis.types import (
    BoolArray,
    FloatArray,
    Handedness,
    SwingAnalysis,
    SwingRecording,
)

HEAD: Final = [p for p in Point if p <= Point.HEAD_TOP or "EYE" in p.name or "EAR" in p.name]
FEET: Final = [p for p in Point if any(n in p.name for n in ("ANKLE", "HEEL", "TOE"))]
ARMS: Final = [p for p in Point if any(n in p.name for n in ("ELBOW", "WRIST", "HAND"))]
LEGS: Final = [p for p in Point if "KNEE" in p.name] + FEET
SIDED: Final = [p for p in Point if p.name.startswith(("LEAD", "TRAIL"))]
_PLACES: Final = {1: 0.1, 4: 0.45, 5: 0.52, 7: 0.6, 8: 0.65}
"""Where in a clip positions lie about, for clips in which none was found."""


@dataclass(frozen=True)
class Film:
    """A changed recording, and for each of its frames the time in the clip as it was.

    Attributes
    ----------
    clock : array of shape (n_frames,)
        Seconds.
    """

    recording: SwingRecording
    clock: FloatArray


Change = Callable[[SwingRecording, SwingAnalysis, np.random.Generator], SwingRecording | Film]
"""Takes a recording and what was found in it as it was. What it gives as a recording alone keeps
the times of its frames."""


@dataclass(frozen=True)
class Perturbation:
    """A change and what it does to the truth.

    Attributes
    ----------
    mirrored : bool
        Whether right-handers become left-handers.
    """

    change: Change
    mirrored: bool = False

    def film(self, seen: SwingRecording, said: SwingAnalysis, rng: np.random.Generator) -> Film:
        """The changed clip."""
        made = self.change(seen, said, rng)
        return made if isinstance(made, Film) else Film(made, made.times)


def frame_of(said: SwingAnalysis, number: int) -> float | None:
    """The frame of a position, where it was found."""
    return next((p.frame for p in said.positions if p.number == number), None)


def frames(seen: SwingRecording, kept: slice | np.ndarray) -> SwingRecording:
    """Some frames of a clip, with their times."""
    return replace(
        seen, points=seen.points[kept], confidence=seen.confidence[kept], times=seen.times[kept]
    )


def height(seen: SwingRecording) -> float:
    """About the player's height in the unit of the points."""
    told = body_height(seen.points)
    return told if np.isfinite(told) else float(np.nanstd(seen.points) * 3.0)


def box(seen: SwingRecording) -> tuple[FloatArray, FloatArray]:
    """Least and largest places of the body in each frame, each of shape (n_frames, 1, 2)."""
    body = seen.points[:, : Point.GRIP_END]
    least, largest = (edge.reduce(body, 1, keepdims=True) for edge in (np.fmin, np.fmax))
    return least, largest


def plays_left(said: SwingAnalysis) -> bool:
    """Whether the player was found to be left-handed."""
    return said.handedness is not None and said.handedness.value is Handedness.LEFT


def losing(seen: SwingRecording, lost: BoolArray) -> SwingRecording:
    """Without some points; ``lost`` has shape (n_frames, n_points)."""
    return replace(
        seen,
        points=np.where(lost[..., None], np.nan, seen.points),
        confidence=np.where(lost, 0.0, seen.confidence),
    )


def exchanged(
    seen: SwingRecording, joints: list[Point], when: slice = slice(None)
) -> SwingRecording:
    """Left and right of some joints exchanged, in the whole clip or in some frames."""
    points, confidence = seen.points.copy(), seen.confidence.copy()
    points[when, joints] = swap_sides(seen.points)[when, joints]
    confidence[when, joints] = swap_sides(seen.confidence)[when, joints]
    return replace(seen, points=points, confidence=confidence)


def place(seen: SwingRecording, said: SwingAnalysis, number: int) -> int:
    """The frame of a position, or about where it would be."""
    found = frame_of(said, number)
    last = len(seen.times) - 1
    return min(int(_PLACES[number] * last if found is None else found), last)


def step(seen: SwingRecording) -> float:
    """Seconds from frame to frame."""
    return float(np.median(np.diff(seen.times)))


def along(seen: SwingRecording, at: FloatArray) -> SwingRecording:
    """The clip at frames and shares of one, shape (n,), joints on straight lines between them."""
    before = np.clip(np.floor(at).astype(int), 0, len(seen.times) - 1)
    after = np.minimum(before + 1, len(seen.times) - 1)
    share = (at - before)[:, None]
    way = seen.points[after] - seen.points[before]
    points = np.where(
        share[..., None] == 0.0, seen.points[before], seen.points[before] + share[..., None] * way
    )
    sure = np.where(
        share == 0.0,
        seen.confidence[before],
        np.minimum(seen.confidence[before], seen.confidence[after]),
    )
    return replace(seen, points=points, confidence=sure, times=np.arange(len(at)) * step(seen))


def shown(seen: SwingRecording, at: FloatArray) -> Film:
    """As :func:`along`, at the clip's own rate, whatever was told by its clock."""
    return Film(along(seen, at), seen.times[0] + at * step(seen))


def again(seen: SwingRecording, seconds: float) -> Film:
    """The swing twice, the player going back to where it began within so many seconds."""
    count, back = len(seen.times), max(3, int(seconds / step(seen)))
    share = np.linspace(0.0, 1.0, back + 2)[1:-1, None]
    way = seen.points[0] - seen.points[-1]
    between = seen.points[-1] + share[..., None] * way
    sure = np.minimum(seen.confidence[0], seen.confidence[-1])
    points = np.concatenate([seen.points, between, seen.points])
    confidence = np.concatenate([seen.confidence, np.repeat(sure[None], back, 0), seen.confidence])
    times = np.arange(len(points)) * step(seen)
    clock = seen.times[0] + times - (count + back) * step(seen)
    return Film(replace(seen, points=points, confidence=confidence, times=times), clock)


def squeezed(across: float) -> Change:
    """All widths changed by a factor."""
    return lambda seen, _, __: replace(seen, points=seen.points * np.array([across, 1.0]))


def tilted(degrees: float) -> Change:
    """The camera rolled about its line of sight."""
    angle = np.radians(degrees)
    turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    return lambda seen, _, __: replace(seen, points=seen.points @ turn)
