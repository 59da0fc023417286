"""An estimator as an ONNX model.

One input ``features`` of shape (n, n_columns), float32, and one output ``estimate`` of shape
(n, 2): the correction and the logarithm of the standard deviation.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from onnx import ModelProto, NodeProto, TensorProto, checker, helper

from training.models.fit import Estimator

_OPSET: Final[int] = 17
_ML_OPSET: Final[int] = 3
_IR: Final[int] = 8


def to_onnx(estimator: Estimator) -> bytes:
    """Convert a fitted estimator."""
    return bytes(_model(estimator).SerializeToString())


def _model(estimator: Estimator) -> ModelProto:
    n_columns = len(estimator.columns)
    graph = helper.make_graph(
        [_trees(estimator)],
        "estimator",
        [helper.make_tensor_value_info("features", TensorProto.FLOAT, [None, n_columns])],
        [helper.make_tensor_value_info("estimate", TensorProto.FLOAT, [None, 2])],
    )
    opsets = [helper.make_opsetid("", _OPSET), helper.make_opsetid("ai.onnx.ml", _ML_OPSET)]
    model = helper.make_model(graph, opset_imports=opsets, ir_version=_IR)
    checker.check_model(model)
    return model


def _trees(estimator: Estimator) -> NodeProto:
    """Both sets of histogram gradient-boosted trees as one TreeEnsembleRegressor.

    Written out here since the general converter writes flags of missing values that current
    versions of ONNX refuse.
    """
    parts = (estimator.correction, estimator.spread)
    trees = [stage[0].nodes for part in parts for stage in part._predictors]
    target_of_tree = np.repeat([0, 1], [len(part._predictors) for part in parts])
    nodes = np.concatenate(trees)
    leaf = nodes["is_leaf"].astype(bool)
    tree = np.repeat(np.arange(len(trees)), [len(t) for t in trees])
    place = np.concatenate([np.arange(len(t)) for t in trees])
    base = [_baseline(part) for part in parts]
    base[1] += float(np.log(estimator.widened))
    return helper.make_node(
        "TreeEnsembleRegressor",
        ["features"],
        ["estimate"],
        domain="ai.onnx.ml",
        n_targets=2,
        base_values=base,
        aggregate_function="SUM",
        post_transform="NONE",
        nodes_treeids=tree.tolist(),
        nodes_nodeids=place.tolist(),
        nodes_featureids=np.where(leaf, 0, nodes["feature_idx"]).tolist(),
        nodes_modes=["LEAF" if at else "BRANCH_LEQ" for at in leaf],
        nodes_values=np.where(leaf, 0.0, _not_above(nodes["num_threshold"])).tolist(),
        nodes_truenodeids=np.where(leaf, 0, nodes["left"]).tolist(),
        nodes_falsenodeids=np.where(leaf, 0, nodes["right"]).tolist(),
        nodes_missing_value_tracks_true=np.where(leaf, 0, nodes["missing_go_to_left"])
        .astype(int)
        .tolist(),
        target_treeids=tree[leaf].tolist(),
        target_nodeids=place[leaf].tolist(),
        target_ids=target_of_tree[tree[leaf]].tolist(),
        target_weights=nodes["value"][leaf].tolist(),
    )


def _baseline(trees: Any) -> float:
    return float(np.ravel(trees._baseline_prediction)[0])


def _not_above(thresholds: NDArray[np.float64]) -> NDArray[np.float32]:
    """Largest float32 that is not above each threshold: single-precision features then
    take the same branch as in double precision."""
    finite = np.clip(thresholds, np.finfo(np.float32).min, np.finfo(np.float32).max)
    single = finite.astype(np.float32)
    below = np.nextafter(single, np.float32(-np.inf))
    return np.where(single.astype(np.float64) > finite, below, single).astype(np.float32)
