"""Where a quantity turns round, and by how much each turn stands out from its surroundings."""

from __future__ import annotations

import numpy as np

from service.analysis.types import BoolArray, FloatArray


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
    steps = (values[1:] != values[:-1]).nonzero()[0]
    rising = values[steps + 1] > values[steps]
    turns = (rising[1:] != rising[:-1]).nonzero()[0]
    if not turns.size:
        return []
    frames = (steps[turns] + 1 + steps[turns + 1]) // 2
    heights = np.concatenate([values[:1], values[frames], values[-1:]])
    high = np.concatenate([[True], rising[turns], [True]])
    high_ones = _highs(heights, high, prominence)
    low_ones = _highs(-heights, ~high, prominence)
    return [int(frames[k - 1]) for k in sorted(high_ones + low_ones)]


def _highs(heights: FloatArray, high: BoolArray, prominence: float) -> list[int]:
    """The highs among some turns, and the ends of the signal, that stand out.

    A high next to a higher one that is reached without coming down by the prominence doesn't, and
    whatever lies beyond it stands out by as much or as little without it. Few are left then.
    """
    first, between, second = heights[:-2], heights[1:-1], heights[2:]
    may = high.copy()
    may[:-2] &= (second <= first) | (between <= first - prominence)
    may[2:] &= (first <= second) | (between <= second - prominence)
    may[[0, -1]] = True
    left = may.nonzero()[0]
    tops, lowest = heights[left].tolist(), np.minimum.reduceat(heights, left)[:-1].tolist()
    before = _lowest_since_higher(tops, lowest)
    after = _lowest_since_higher(tops[::-1], lowest[::-1])[::-1]
    return [
        k
        for k, top, *both in zip(
            left.tolist()[1:-1], tops[1:-1], before[1:-1], after[1:-1], strict=True
        )
        if top - max(both) >= prominence
    ]


def _lowest_since_higher(tops: list[float], lowest: list[float]) -> list[float]:
    """The lowest of what came before each top since the last one higher than it.

    ``lowest`` holds the least height between each top and the next.
    """
    told = tops[:1]
    open_ends = [(tops[0], tops[0])]
    for top, least in zip(tops[1:], lowest, strict=True):
        while open_ends and open_ends[-1][0] <= top:
            least = min(least, open_ends.pop()[1])
        open_ends.append((top, least))
        told.append(least)
    return told
