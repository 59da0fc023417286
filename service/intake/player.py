"""Which of several people is the player, and where that person is in every frame.

The player is the one who is tallest in the picture over the film, since the film is about that
person; who that is from one frame to the next follows from where the body was.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from service.analysis.types import FloatArray
from service.intake.formats import Frame, Person

_FARTHEST: Final[float] = 0.5
"""Body heights that a person's middle may move between two frames in which it was seen."""
_LONGEST_GAP: Final[int] = 15
"""Frames without a person after which whoever comes is somebody else."""


@dataclass(frozen=True)
class Followed:
    """The player in every frame.

    Attributes
    ----------
    points
        One entry a frame; ``None`` where the player is not seen.
    most_people
        Most people in one frame.
    others
        Frames in which somebody else was seen.
    """

    points: list[Person | None]
    most_people: int
    others: int


@dataclass
class _Track:
    """One person over the film: who is in which frame, and where last."""

    seen: dict[int, int]
    middle: FloatArray
    height: float
    heights: list[float]
    last: int


def follow_player(frames: Sequence[Frame]) -> Followed:
    """Follow the player through frames that may hold several people.

    Parameters
    ----------
    frames
        People a frame, each a list of points ``[x, y, confidence]`` or ``None``.
    """
    most = max((len(frame) for frame in frames), default=0)
    if most <= 1:
        return Followed([frame[0] if frame else None for frame in frames], most, 0)
    tracks: list[_Track] = []
    for number, frame in enumerate(frames):
        _extend(tracks, number, frame)
    if not tracks:
        return Followed([None] * len(frames), most, 0)
    player = max(tracks, key=lambda t: sum(t.heights))
    points = [frame[player.seen[n]] if n in player.seen else None for n, frame in enumerate(frames)]
    others = sum(len(frame) > (n in player.seen) for n, frame in enumerate(frames))
    return Followed(points, most, others)


def _extend(tracks: list[_Track], number: int, frame: Frame) -> None:
    """Give each person of a frame to the nearest track, or begin a new one."""
    free = [t for t in tracks if number - t.last <= _LONGEST_GAP]
    boxes = [(index, *_place(person)) for index, person in enumerate(frame)]
    pairs = sorted(
        (float(np.hypot(*(middle - t.middle))) / max(t.height, height, 1e-9), index, k)
        for index, middle, height in boxes
        if np.isfinite(height)
        for k, t in enumerate(free)
    )
    placed: dict[int, int] = {}
    for distance, index, k in pairs:
        if distance <= _FARTHEST and index not in placed and k not in placed.values():
            placed[index] = k
    for index, middle, height in boxes:
        if not np.isfinite(height):
            continue
        if index in placed:
            track = free[placed[index]]
            track.seen[number], track.last = index, number
            track.middle, track.height = middle, height
            track.heights.append(height)
        else:
            tracks.append(_Track({number: index}, middle, height, [height], number))


def _place(person: Person) -> tuple[FloatArray, float]:
    """Middle of a person's points and the height over which they spread; NaN without any."""
    points = np.array([p[:2] for p in person if p is not None], dtype=np.float64)
    if len(points) < 2:
        return np.full(2, np.nan), float("nan")
    return np.median(points, axis=0), float(np.ptp(points[:, 1]))
