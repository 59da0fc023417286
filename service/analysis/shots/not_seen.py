"""Places that are told of joints which were not seen there, left out of a film and told of."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np

from service.analysis.pose.geometry import distance
from service.analysis.types import BoolArray, Level, Remark, SwingRecording

_ASIDE: Final[float] = 0.25
"""Share of the extent of all that is seen by which the corner where a source puts joints that it
did not see lies away from it."""
_FEWEST_ASIDE: Final[int] = 2
"""Points told at that very corner, at least."""


def without_corner(film: SwingRecording) -> SwingRecording:
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


def without_strayed(film: SwingRecording, strayed: list[slice]) -> SwingRecording:
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


def without_held(film: SwingRecording, lost: BoolArray | None) -> SwingRecording:
    """The film without hands that are shown where they were last seen: ``lost``, of shape
    (n_frames, n_points), says which points when, ``None`` that none is."""
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
