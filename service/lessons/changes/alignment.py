"""Swings laid beside each other by position coordinate instead of by frame."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from service.analysis.events.normalized import GRID
from service.analysis.types import FloatArray, SwingAnalysis
from service.lessons.errors import NoSwingFound, TooFewSwings


@dataclass(frozen=True)
class Alignment:
    """The moments at which several swings show the same position coordinate.

    Attributes
    ----------
    positions : array of shape (n_positions,)
        Increasing; only what every swing shows.
    frames : array of shape (n_swings, n_positions)
        Zero-based and fractional; round to the nearest for a picture.
    times : array of shape (n_swings, n_positions)
        Seconds of each clip.
    """

    positions: FloatArray
    frames: FloatArray
    times: FloatArray


def align(analyses: Sequence[SwingAnalysis], positions: FloatArray = GRID) -> Alignment:
    """Find the frames of every swing that show the same moments of the swing.

    Parameters
    ----------
    analyses : n_swings
        Each with its frame times.
    positions : array of shape (n_positions,)
        Position coordinates wanted, increasing; every eighth by default, ``arange(1, 11)``
        for P1 to P10. Those that a swing does not show are left out.

    Raises
    ------
    TooFewSwings
        With fewer than two swings.
    NoSwingFound
        If a clip holds no swing.
    """
    if len(analyses) < 2:
        raise TooFewSwings(f"Aligning takes two swings or more; {len(analyses)} given.")
    frames = np.stack([_frames_of(analysis, positions) for analysis in analyses])
    seen = ~np.isnan(frames).any(axis=0)
    at = [
        np.interp(own, np.arange(len(analysis.times)), analysis.times)
        for own, analysis in zip(frames[:, seen], analyses, strict=True)
    ]
    return Alignment(positions[seen], frames[:, seen], np.stack(at))


def _frames_of(analysis: SwingAnalysis, positions: FloatArray) -> FloatArray:
    """Fractional frames of position coordinates; NaN outside the swing, shape (n_positions,)."""
    if not analysis.swing_found:
        raise NoSwingFound(
            analysis.reason.text if analysis.reason else "The clip holds no golf swing."
        )
    inside = np.flatnonzero(~np.isnan(analysis.coordinate))
    # A position lies between two frames; without it as a knot its own frame would be missed.
    anchors = [(p.frame, float(p.number)) for p in analysis.positions if p.frame is not None]
    knots = np.array([*anchors, *zip(inside, analysis.coordinate[inside], strict=True)])
    knots = knots[np.lexsort((knots[:, 1], knots[:, 0]))]
    coordinate = np.maximum.accumulate(knots[:, 1])
    return np.asarray(np.interp(positions, coordinate, knots[:, 0], left=np.nan, right=np.nan))
