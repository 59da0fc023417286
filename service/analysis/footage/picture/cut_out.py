"""Coordinates that go along with the player: counted from the hips, or in each frame's own cut-out.

Pose models that look at a piece of the picture about the player give places in that piece, which
shifts and shrinks as the hands go up; places in space are often counted from the hips. Held against
the ground both are wrong, in the backswing alone, as low hands bring the piece back. But the
hips, or the corner or the middle of the body's bounding box, then lie at one place in every frame,
which no player's do.
"""

from __future__ import annotations

from collections.abc import Sequence
from enum import Enum
from typing import Final

import numpy as np

from service.analysis.pose.geometry import midpoint
from service.analysis.pose.points import Point
from service.analysis.types import FloatArray

_BODY: Final = slice(0, Point.GRIP_END)
_HIPS: Final = (Point.LEAD_HIP, Point.TRAIL_HIP)
_HIPS_REST: Final[float] = 0.002
"""Share of the body's extent within which the middle of the hips lies at one place from address to
impact. Of 328 real, simulated and replayed swings it goes at least 0.5 %."""
_BOX_RESTS: Final[float] = 0.005
"""The same of a corner and the middle of the bounding box, which go at least 1.1 % in those."""
_FEWEST: Final[int] = 4
"""Moments from which a place that stays the same tells anything."""


class Origin(Enum):
    """What coordinates are counted from, where that is not the film's picture."""

    HIPS = "hips"
    CUT_OUT = "cut-out"


def origins(swings: Sequence[tuple[FloatArray, Sequence[int]]]) -> list[Origin | None]:
    """What the coordinates of each swing are counted from; ``None`` for the picture's own.

    Parameters
    ----------
    swings : of each its points as they were sent, shape (n_frames, n_points, 2), and some frames
        from address to impact in which players stand differently, none where too few are told
    """
    told: list[Origin | None] = [None] * len(swings)
    chosen = [k for k, (_, at) in enumerate(swings) if len(at) >= _FEWEST]
    if not chosen:
        return told
    most = max(len(swings[k][1]) for k in chosen)
    shown = np.array([_shown(*swings[k], most) for k in chosen])
    body = np.ascontiguousarray(shown.transpose(2, 0, 1, 3)[_BODY])  # so that all runs along memory
    least, largest = np.fmin.reduce(body), np.fmax.reduce(body)
    of_hips = midpoint(*(body[hip] for hip in _HIPS))
    hips, corner, middle = map(_way, (of_hips, least, 0.5 * (least + largest)))
    size = np.maximum.reduce(largest - least, axis=(1, 2))
    hips_rest = hips < _HIPS_REST * size
    box_rests = np.minimum(corner, middle) < _BOX_RESTS * size
    for k, hips_stay, box_stays in zip(chosen, hips_rest, box_rests, strict=True):
        told[k] = Origin.HIPS if hips_stay else Origin.CUT_OUT if box_stays else None
    return told


def _shown(sent: FloatArray, at: Sequence[int], count: int) -> FloatArray:
    """The points in so many frames, the first again where there are fewer."""
    return sent.take([*at, *[at[0]] * (count - len(at))], axis=0)


def _way(places: FloatArray) -> FloatArray:
    """How far places of shape (n_swings, n_moments, 2) go along either axis, shape (n_swings,)."""
    ways = np.maximum.reduce(places, axis=1) - np.minimum.reduce(places, axis=1)
    return np.asarray(np.maximum.reduce(ways, axis=1))
