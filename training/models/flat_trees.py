"""Boosted trees as a rule of :mod:`service.analysis.events.positions.refinement` keeps them."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from sklearn.ensemble import HistGradientBoostingRegressor

from service.analysis.events.positions.refinement import Rule
from service.analysis.types import FloatArray

_HIGHEST: Final[float] = 1e300
"""A level that no mark is above, unless it is not seen."""


def flat(trees: HistGradientBoostingRegressor, depth: int) -> Rule:
    """The rule that tells the same, its spread still to be told.

    Parameters
    ----------
    depth : int
        The deepest tree's; what ends sooner is filled up.
    """
    n_trees, n_marks = len(trees._predictors), int(trees.n_features_in_)
    mark = np.zeros((n_trees, 2**depth - 1), dtype=np.intp)
    level = np.full(mark.shape, _HIGHEST)
    leaf = np.zeros((n_trees, 2**depth))
    for k, stage in enumerate(trees._predictors):
        _fill(stage[0].nodes, 0, 0, depth, n_marks, mark[k], level[k], leaf[k])
    base = float(np.ravel(trees._baseline_prediction)[0])
    return Rule(base, mark, level, leaf, n_marks)


def _fill(
    nodes: Any,
    node: int,
    place: int,
    left: int,
    n_marks: int,
    mark: Any,
    level: FloatArray,
    leaf: FloatArray,
) -> None:
    """Fill one tree from a node on, which comes to a place with so many splits left below it."""
    if nodes["is_leaf"][node]:
        first = (place + 1 << left) - 1 - len(mark)
        leaf[first : first + (1 << left)] = nodes["value"][node]
        return
    upward = 0 if nodes["missing_go_to_left"][node] else n_marks
    mark[place] = nodes["feature_idx"][node] + upward
    # A split by whether a mark is seen has an endless threshold, which nothing is above.
    level[place] = min(nodes["num_threshold"][node], _HIGHEST)
    for side, below in enumerate(("left", "right")):
        _fill(
            nodes,
            int(nodes[below][node]),
            2 * place + 1 + side,
            left - 1,
            n_marks,
            mark,
            level,
            leaf,
        )
