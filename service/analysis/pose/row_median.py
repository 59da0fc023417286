"""Medians of many short rows at once."""

from __future__ import annotations

from math import isnan

import numpy as np

from service.analysis.types import FloatArray


def row_median(values: FloatArray) -> FloatArray:
    """Median of each row's numbers, NaN for a row without any.

    numpy's own is several times slower where there are NaNs to skip.
    """
    if not isnan(np.add.reduce(values, axis=None)):
        half = values.shape[1] // 2
        halves = np.partition(values, half, axis=1)
        upper = halves[:, half]
        lower = np.maximum.reduce(halves[:, :half], axis=1) if values.shape[1] % 2 == 0 else upper
        return np.asarray((lower + upper) / 2)
    ordered = np.sort(values, axis=1)
    count = (~np.isnan(values)).sum(axis=1)
    rows = np.arange(len(values))
    middle = ordered[rows, np.maximum(count - 1, 0) // 2] + ordered[rows, count // 2]
    return np.where(count > 0, middle / 2, np.nan)
