"""Whether the swings that come in are still like those that the model was made on.

The manifest tells of each feature the range in which 98 % of the training clips lay, so that of
swings like them one in a hundred lies below, one in a hundred above and the rest between. How far
the swings of late are from that is told by the population stability index,

    PSI = sum over the three bins of (share - expected) * ln(share / expected)

(N. Siddiqi, "Credit Risk Scorecards", 2006, cited from memory; the same is the symmetric
divergence of Jeffreys 1946). By usage 0.1 is worth a look and 0.25 a change; a convention, from
memory too. With three bins it sees values that leave the range, not a shift inside it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from threading import Lock
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.analysis.judging.estimates import USUAL, Range
from service.analysis.judging.features import FEATURE_NAMES
from service.analysis.types import FloatArray, View

WINDOW: Final[float] = 500.0
"""Swings of a view after which one weighs a third of what it did: the past is forgotten slowly,
and memory does not grow with it."""

FEWEST: Final[float] = 100.0
"""Weight of the swings in which a feature was seen below which nothing is said of it: of fewer
the index tells chance (its expectation without drift is about 2 / n)."""

CHANGED: Final[float] = 0.25
"""Index from which the inputs are said to have changed."""

_EXPECTED: Final[FloatArray] = np.array([USUAL[0], USUAL[1] - USUAL[0], 100.0 - USUAL[1]]) / 100.0


def stability_index(counts: FloatArray) -> FloatArray:
    """The population stability index of each feature against its training range.

    Parameters
    ----------
    counts : array of shape (n, 3)
        How many values lay below, within and above the range.

    Returns
    -------
    array of shape (n,)
        NaN where fewer than :data:`FEWEST` values were seen.

    Notes
    -----
    An empty bin counts as half a value, as the logarithm of nothing is not finite.

    >>> stability_index(np.array([[2.0, 196.0, 2.0], [0.0, 150.0, 50.0]])).round(3).tolist()
    [0.0, 0.844]
    """
    n = counts.sum(axis=1, keepdims=True)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.maximum(counts, 0.5) / n
        index = ((share - _EXPECTED) * np.log(share / _EXPECTED)).sum(axis=1)
    return np.where(n[:, 0] >= FEWEST, index, np.nan)


@dataclass(frozen=True)
class DriftedFeature:
    """The feature of a group that is furthest from what it was in training.

    Attributes
    ----------
    below, above
        Shares of the swings in which it lies outside the range of training.
    """

    view: View
    group: str
    feature: str
    index: float
    below: float
    above: float


class Drift:
    """Counts of late, of each view and feature; bounded in memory, safe between threads.

    Parameters
    ----------
    ranges
        What the features of each view were in training.
    window
        As :data:`WINDOW`; infinite to forget nothing.
    """

    def __init__(self, ranges: Mapping[View, Range], window: float = WINDOW) -> None:
        self._ranges = ranges
        self._kept = 1.0 - 1.0 / window
        self._counts = {view: np.zeros((len(r.columns), 3)) for view, r in ranges.items()}
        self._lock = Lock()

    def add(self, view: View, vector: NDArray[np.float32]) -> None:
        """Count the features of one swing; what is missing in it is not counted.

        Parameters
        ----------
        vector : array of shape (n_features,)
        """
        known = self._ranges.get(view)
        if known is None:
            return
        below, above, seen = known.sides(vector)
        bins = np.column_stack([below & seen, seen & ~below & ~above, above & seen])
        with self._lock:
            counts = self._counts[view]
            counts *= self._kept
            counts += bins

    def worst(self) -> list[DriftedFeature]:
        """Of each view and group of features the one with the largest index, where one is told."""
        found = []
        for view, known in self._ranges.items():
            with self._lock:
                counts = self._counts[view].copy()
            index = stability_index(counts)
            names = [FEATURE_NAMES[k] for k in known.columns]
            groups = np.array([name.partition(".")[0] for name in names])
            for group in dict.fromkeys(groups.tolist()):
                of_group = np.where(groups == group, index, np.nan)
                if np.isfinite(of_group).any():
                    k = int(np.nanargmax(of_group))
                    below, _, above = (counts[k] / counts[k].sum()).tolist()
                    found.append(
                        DriftedFeature(view, group, names[k], float(index[k]), below, above)
                    )
        return found
