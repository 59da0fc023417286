"""Networks that place positions, each learnt without one make of golfers: to judge that make by,
and to measure its clips by for the estimators to learn from.

``python -m training.models.fit_positions`` writes them beside the one that is served.
"""

from __future__ import annotations

from pathlib import Path


def learnt_without(make: str) -> Path:
    """The network learnt from all makes but one."""
    return Path(__file__).parent / f"without_{make.replace(' ', '_')}.onnx"
