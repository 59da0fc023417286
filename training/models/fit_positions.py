"""Learn where positions lie from all that is seen of a swing.

``python -m training.models.fit_positions`` writes the network of
:mod:`service.analysis.events.positions.network`, and those learnt without each make. The scale of
its uncertainty comes from the residuals on each make of a network learnt from the others.
"""

from __future__ import annotations

import argparse
import json
import os
from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from pathlib import Path
from queue import SimpleQueue
from typing import Final

import jax
import numpy as np
from tqdm import tqdm

import service.analysis.events.positions
from service.analysis.events.positions.network import FILE, SPREAD
from service.analysis.types import FloatArray
from training.models.left_out import learnt_without
from training.models.positions.network import RowNumbers, fit_distilled
from training.models.positions.swings import TrainingSet, training_set
from training.models.positions.to_onnx import to_onnx
from training.models.positions.uncertainty import residuals, scales

GOLFERS: Final[int] = 1400
"""Golfers of each make by their own clocks, and as many by other ones."""
ROUNDS: Final[int] = 32


def learn(
    data: TrainingSet, rounds: int = ROUNDS
) -> tuple[dict[str, FloatArray], dict[str, dict[str, FloatArray]]]:
    """Weights from every make, and by make those learnt from the others; as many networks at once
    as there are accelerators."""
    makes = data.make
    left_out = [make for make in sorted(set(makes)) if (makes != make).any()]
    rows = [np.flatnonzero(makes != make) for make in left_out]
    free: SimpleQueue[jax.Device] = SimpleQueue()
    for device in jax.local_devices():
        free.put(device)

    def one(some: RowNumbers) -> dict[str, FloatArray]:
        device = free.get()
        try:
            with jax.default_device(device):
                return fit_distilled(data.examples, rounds, some, progress)
        finally:
            free.put(device)

    progress = partial(tqdm, desc="positions network")
    with ThreadPoolExecutor(len(jax.local_devices())) as pool:
        every, *others = pool.map(one, [np.arange(len(makes)), *rows])
    return every, dict(zip(left_out, others, strict=True))


def model_of(weights: Mapping[str, FloatArray], scales: Mapping[str, list[list[float]]]) -> bytes:
    """A network as the service reads it."""
    return to_onnx(weights, {SPREAD: json.dumps(scales)})


def main() -> None:
    """Learn from every make, and from all but each one for how sure the network may be."""
    parser = argparse.ArgumentParser(description=main.__doc__)
    parser.add_argument("--golfers", type=int, default=GOLFERS, help="of each make")
    parser.add_argument("--rounds", type=int, default=ROUNDS, help="times each swing is seen")
    asked = parser.parse_args()
    data = training_set(asked.golfers, jobs=os.cpu_count() or 1)
    weights, others = learn(data, asked.rounds)
    sure = scales(residuals(data, others))
    for make, its in others.items():
        learnt_without(make).write_bytes(model_of(its, sure))
    served = Path(service.analysis.events.positions.__file__).parent / FILE
    served.write_bytes(model_of(weights, sure))


if __name__ == "__main__":
    main()
