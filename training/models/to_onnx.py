"""Estimators as ONNX models with one input, ``features``, of shape (n, n_columns), float32."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from onnx import ModelProto, TensorProto, checker, helper
from skl2onnx import convert_sklearn
from skl2onnx.common.data_types import FloatTensorType
from sklearn.base import is_classifier

_OPSET: Final[int] = 17
_ML_OPSET: Final[int] = 3
_IR: Final[int] = 8


def to_onnx(estimator: Any, n_columns: int) -> bytes:
    """Convert a fitted pipeline, or gradient-boosted trees.

    Trees give their raw score (log-odds of a classifier) as their one output; a
    classifying pipeline gives labels and then probabilities, any other its prediction.
    """
    if hasattr(estimator, "_predictors"):
        return bytes(_trees(estimator, n_columns).SerializeToString())
    options = {id(estimator): {"zipmap": False}} if is_classifier(estimator) else None
    shape = [("features", FloatTensorType([None, n_columns]))]
    model = convert_sklearn(estimator, initial_types=shape, target_opset=_OPSET, options=options)
    return bytes(model.SerializeToString())


def _trees(estimator: Any, n_columns: int) -> ModelProto:
    """Histogram gradient boosting as one TreeEnsembleRegressor.

    Written out here since the general converter writes flags of missing values that current
    versions of ONNX refuse.
    """
    trees = [stage[0].nodes for stage in estimator._predictors]
    nodes = np.concatenate(trees)
    leaf = nodes["is_leaf"].astype(bool)
    tree = np.repeat(np.arange(len(trees)), [len(t) for t in trees])
    place = np.concatenate([np.arange(len(t)) for t in trees])
    baseline = float(np.ravel(estimator._baseline_prediction)[0])
    ensemble = helper.make_node(
        "TreeEnsembleRegressor",
        ["features"],
        ["score"],
        domain="ai.onnx.ml",
        n_targets=1,
        base_values=[baseline],
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
        target_ids=[0] * int(leaf.sum()),
        target_weights=nodes["value"][leaf].tolist(),
    )
    graph = helper.make_graph(
        [ensemble],
        "trees",
        [helper.make_tensor_value_info("features", TensorProto.FLOAT, [None, n_columns])],
        [helper.make_tensor_value_info("score", TensorProto.FLOAT, [None, 1])],
    )
    opsets = [helper.make_opsetid("", _OPSET), helper.make_opsetid("ai.onnx.ml", _ML_OPSET)]
    model = helper.make_model(graph, opset_imports=opsets, ir_version=_IR)
    checker.check_model(model)
    return model


def _not_above(thresholds: NDArray[np.float64]) -> NDArray[np.float32]:
    """Largest float32 that is not above each threshold: single-precision features then
    take the same branch as in double precision."""
    finite = np.clip(thresholds, np.finfo(np.float32).min, np.finfo(np.float32).max)
    single = finite.astype(np.float32)
    below = np.nextafter(single, np.float32(-np.inf))
    return np.where(single.astype(np.float64) > finite, below, single).astype(np.float32)
