"""Medians and quantiles of many rows at once; numpy's own are slow where there are NaNs to skip.

Each takes values of shape (n_rows, n) and returns an array of shape (n_rows,).
"""

from __future__ import annotations

from math import isfinite, isnan

import numpy as np

from service.analysis.types import FloatArray


def row_median(values: FloatArray) -> FloatArray:
    """Median of each row's numbers, NaN for a row without any."""
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


def row_quantile(values: FloatArray, share: float) -> FloatArray:
    """The number of each row that lies at a share of its finite numbers in order, or next below;
    NaN for a row without any.

    >>> row_quantile(np.array([[3.0, np.nan, 1.0, 2.0], [np.nan] * 4]), 0.9)
    array([ 2., nan])
    """
    if not values.size:
        return np.full(len(values), np.nan)
    if isfinite(np.add.reduce(values, axis=None)):
        index = int(share * (values.shape[1] - 1))
        return np.asarray(np.partition(values, index, axis=1)[:, index])
    ordered = np.sort(values, axis=1)  # what is not finite goes last
    count = np.count_nonzero(np.isfinite(values), axis=1)
    at = np.maximum((share * (count - 1)).astype(np.intp), 0)
    return np.where(count > 0, ordered[np.arange(len(values)), at], np.nan)
