"""Where a quantity turns round, and by how much each turn stands out from its surroundings."""

from __future__ import annotations

import numpy as np

from service.analysis.types import FloatArray


def turning_points(values: FloatArray, prominence: float) -> list[int]:
    """Frames of the highs and lows, in order, that stand out by a least prominence.

    What ``scipy.signal.find_peaks`` finds of a signal and of its negative, in time linear in the
    frames; importing ``scipy.signal`` would take longer than all else at the start of a process.

    Parameters
    ----------
    values : array of shape (n_frames,)
        Without gaps. The first and the last stretch of equal values are no turn.
    prominence : float
        Of a high: how far one must come down from it, on whichever side less, before it goes higher
        or the signal ends.

    >>> turning_points(np.array([0.0, 2.0, 1.9, 3.0, 3.0, 3.0, 0.0, 1.0]), 0.5)
    [4, 6]
    """
    steps = np.flatnonzero(values[1:] != values[:-1])
    rising = values[steps + 1] > values[steps]
    turns = np.flatnonzero(rising[1:] != rising[:-1])
    frames = ((steps[turns] + 1 + steps[turns + 1]) // 2).tolist()
    heights = [values.item(0), *values[frames].tolist(), values.item(-1)]
    highs, lows = _prominences(heights), _prominences([-height for height in heights])
    told = zip(frames, rising[turns].tolist(), highs[1:-1], lows[1:-1], strict=True)
    return [frame for frame, is_high, high, low in told if (high if is_high else low) >= prominence]


def _prominences(heights: list[float]) -> list[float]:
    """By how much each height stands out as a high."""
    before = _lowest_since_higher(heights)
    after = _lowest_since_higher(heights[::-1])[::-1]
    return [height - max(both) for height, *both in zip(heights, before, after, strict=True)]


def _lowest_since_higher(heights: list[float]) -> list[float]:
    """The lowest of what came before each height since the last one higher than it."""
    lowest: list[float] = []
    open_ends: list[tuple[float, float]] = []
    for height in heights:
        least = height
        while open_ends and open_ends[-1][0] <= height:
            least = min(least, open_ends.pop()[1])
        open_ends.append((height, least))
        lowest.append(least)
    return lowest
