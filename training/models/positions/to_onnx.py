"""The network that places positions, as an ONNX model.

Inputs ``signals`` (n, N_SAMPLES, N_SIGNALS) and ``about`` (n, N_ABOUT), float32; one output
``chances`` (n, 10, N_MOMENTS). Weights are kept in half precision. Inside, strips are pictures one
row high, (n, channels, 1, n_samples), with which the runtime is an eighth quicker.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

import numpy as np
from onnx import ModelProto, TensorProto, checker, helper, numpy_helper

from service.analysis.events.positions.strip import N_ABOUT, N_SIGNALS
from service.analysis.events.positions.strip_clock import N_MOMENTS, N_SAMPLES
from service.analysis.types import FloatArray
from training.models.positions.network import BLOCKS, MOMENTS_AT_ONCE, N_POSITIONS, WIDTHS

_OPSET: Final[int] = 17
_IR: Final[int] = 8


def to_onnx(weights: Mapping[str, FloatArray], notes: Mapping[str, str]) -> bytes:
    """Write fitted weights as a model, with notes beside them."""
    model = _Graph(weights).model()
    helper.set_model_props(model, dict(notes))
    return bytes(model.SerializeToString())


class _Graph:
    """Nodes and constants of the model as they are put together."""

    def __init__(self, weights: Mapping[str, FloatArray]) -> None:
        self.weights = weights
        self.nodes: list[Any] = []
        self.constants: list[Any] = []

    def model(self) -> ModelProto:
        x = self._add("Transpose", ["signals"], perm=[0, 2, 1])
        x = self._conv("stem", self._add("Unsqueeze", [x, self._whole("row", [2])]), 2)
        self._constant("of_about", self.weights["about"][0])
        self._constant("about.bias", self.weights["about.bias"])
        about = self._add("Add", [self._add("MatMul", ["about", "of_about"]), "about.bias"])
        x = self._add("Add", [x, self._add("Unsqueeze", [about, self._whole("last", [2, 3])])])
        passed = []
        for level in range(len(WIDTHS)):
            if level:
                passed.append(x)
                x = self._conv(f"down{level}", self._add("Relu", [x]), 2)
            for k in range(BLOCKS):
                x = self._block(f"block{level}.{k}", x)
        for level in reversed(range(1, len(WIDTHS))):
            x = self._unfolded(self._conv(f"up{level}", self._add("Relu", [x])), WIDTHS[level - 1])
            x = self._block(f"joined{level - 1}", self._add("Add", [x, passed.pop()]))
        x = self._conv("told", self._add("Relu", [x]))
        x = self._unfolded(x, N_POSITIONS, MOMENTS_AT_ONCE)
        x = self._add("Squeeze", [x, "row"])
        self.nodes.append(helper.make_node("Softmax", [x], ["chances"], axis=2))
        sizes = {"signals": [None, N_SAMPLES, N_SIGNALS], "about": [None, N_ABOUT]}
        graph = helper.make_graph(
            self.nodes,
            "positions",
            [helper.make_tensor_value_info(n, TensorProto.FLOAT, s) for n, s in sizes.items()],
            [
                helper.make_tensor_value_info(
                    "chances", TensorProto.FLOAT, [None, N_POSITIONS, N_MOMENTS]
                )
            ],
            self.constants,
        )
        model = helper.make_model(
            graph, opset_imports=[helper.make_opsetid("", _OPSET)], ir_version=_IR
        )
        checker.check_model(model)
        return model

    def _add(self, operation: str, inputs: Sequence[str], **settings: Any) -> str:
        name = f"{operation.lower()}{len(self.nodes)}"
        self.nodes.append(helper.make_node(operation, list(inputs), [name], **settings))
        return name

    def _constant(self, name: str, values: FloatArray) -> str:
        half = np.ascontiguousarray(values, dtype=np.float16)
        self.constants.append(numpy_helper.from_array(half, name + ".half"))
        self.nodes.append(helper.make_node("Cast", [name + ".half"], [name], to=TensorProto.FLOAT))
        return name

    def _whole(self, name: str, values: Sequence[int]) -> str:
        self.constants.append(numpy_helper.from_array(np.array(values, dtype=np.int64), name))
        return name

    def _conv(self, name: str, x: str, stride: int = 1) -> str:
        weights = self.weights[name]
        self._constant(name, np.moveaxis(weights, 0, -1).swapaxes(0, 1)[:, :, None])
        self._constant(name + ".bias", self.weights[name + ".bias"])
        half = len(weights) // 2
        pads = [0, half, 0, half]
        return self._add("Conv", [x, name, name + ".bias"], strides=[1, stride], pads=pads)

    def _block(self, name: str, x: str) -> str:
        inner = self._add("Relu", [self._conv(name + ".wide", self._add("Relu", [x]))])
        return self._add("Add", [x, self._conv(name + ".mix", inner)])

    def _unfolded(self, x: str, channels: int, times: int = 2) -> str:
        """So many times as many samples, of so many channels."""
        count = len(self.nodes)
        apart = self._add("Reshape", [x, self._whole(f"apart{count}", [0, times, channels, -1])])
        turned = self._add("Transpose", [apart], perm=[0, 2, 3, 1])
        return self._add("Reshape", [turned, self._whole(f"joint{count}", [0, channels, 1, -1])])
