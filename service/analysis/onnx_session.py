"""ONNX models are run in one way everywhere."""

from __future__ import annotations

import onnxruntime


def open_session(model: bytes) -> onnxruntime.InferenceSession:
    """A session under the thread policy of the service: one thread, in order."""
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = 1
    options.inter_op_num_threads = 1
    options.execution_mode = onnxruntime.ExecutionMode.ORT_SEQUENTIAL
    options.log_severity_level = 3
    return onnxruntime.InferenceSession(model, options, providers=["CPUExecutionProvider"])
