"""What a change to a clip is, and what several of them need."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from service.analysis.pose.points import Point
from service.analysis.pose.stature import body_height
from service.analysis.types import BoolArray, FloatArray, SwingAnalysis, SwingRecording

HEAD: Final = [p for p in Point if p <= Point.HEAD_TOP or "EYE" in p.name or "EAR" in p.name]
FEET: Final = [p for p in Point if any(n in p.name for n in ("ANKLE", "HEEL", "TOE"))]
ARMS: Final = [p for p in Point if any(n in p.name for n in ("ELBOW", "WRIST", "HAND"))]
LEGS: Final = [p for p in Point if "KNEE" in p.name] + FEET
SIDED: Final = [p for p in Point if p.name.startswith(("LEAD", "TRAIL"))]


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


def losing(seen: SwingRecording, lost: BoolArray) -> SwingRecording:
    """Without some points; ``lost`` has shape (n_frames, n_points)."""
    return replace(
        seen,
        points=np.where(lost[..., None], np.nan, seen.points),
        confidence=np.where(lost, 0.0, seen.confidence),
    )
