"""The table by which a picture that grows from address to impact is told, made anew.

``python -m tests.reference.fits.growth`` prints it, and for each source of swings how a table
fitted on the others does on it: how far the growth of pictures that don't grow strays, in how many
it would be told, and in how many it is once the picture grows or shrinks by a tenth up to impact.
"""

from __future__ import annotations

import sys
from collections.abc import Mapping
from typing import Final

import numpy as np

from service.analysis.footage.camera import LARGEST_GROWTH
from service.analysis.footage.picture.growth import SINKS, signs
from service.analysis.footage.places import Legs
from service.analysis.measured import MeasuredSwing, measure_swing
from service.analysis.types import FloatArray, SwingRecording
from tests.reference.clips import FOLDER, GOLF, available, read, recording
from tests.reference.fits.proportions import simulated

_RESPONSE: Final = np.array([SINKS, SINKS, 1.0])
"""What each sign is of a picture that grows by a factor of e, about."""
_OWN: Final = 2e-4
"""Variance that each sign's is raised by, so that few clips don't decide."""
_FARTHEST: Final = np.array([0.07, 0.07, 0.2])
"""Body heights, and growth, beyond which it is the camera that moves in a real clip."""


def signs_of(clip: SwingRecording, factor: float) -> FloatArray | None:
    """The signs of a clip whose picture grows by a factor from address to impact."""
    swing = measure_swing(clip)
    if not isinstance(swing, MeasuredSwing):
        return None
    start, impact = (swing.positions[k].frame for k in (0, 6))
    if start is None or impact is None:
        return None
    poses = swing.poses[int(start) :]
    last = round(impact) - int(start)
    middle = np.nanmedian(poses, axis=(0, 1))
    gone = np.interp(np.arange(len(poses)), [0.0, max(last, 1)], [0.0, 1.0])[:, None, None]
    told = signs(Legs.of([middle + (poses - middle) * factor**gone], [(0, 0, last)]))[0]
    return told if np.isfinite(told).all() else None


def sources(factor: float = 1.0) -> Mapping[str, FloatArray]:
    """Signs of shape (n_swings, 3) by source."""
    clips = {name: [recording(clip) for clip in read(name)] for name in GOLF}
    clips["simulated"] = list(simulated())
    every = {name: [signs_of(clip, factor) for clip in own] for name, own in clips.items()}
    return {name: np.array([s for s in own if s is not None]) for name, own in every.items()}


def fitted(found: list[FloatArray]) -> tuple[FloatArray, FloatArray]:
    """Usual values and weights, each of shape (3,): all sources count alike."""
    usual = np.mean([np.median(own, axis=0) for own in found], axis=0)
    off = [np.clip(own - usual, -_FARTHEST, _FARTHEST) for own in found]
    spread = np.mean([own.T @ own / len(own) for own in off], axis=0) + _OWN * np.eye(3)
    weights = np.linalg.solve(spread, _RESPONSE)
    return usual, weights / (weights @ _RESPONSE)


def main() -> int:
    """Print the table and what it is worth."""
    if not available():
        print(f"No reference data in {FOLDER}; set SWING_REFERENCE_DIR.", file=sys.stderr)
        return 2
    found, grown, shrunk = sources(), sources(1.1), sources(1 / 1.1)
    for name, own in found.items():
        usual, weights = fitted([each for other, each in found.items() if other != name])
        told, larger, smaller = ((each[name] - usual) @ weights for each in (found, grown, shrunk))
        print(
            f"{name:22s}fitted on the others: {told.min():5.2f} to {told.max():4.2f}, "
            f"spread {told.std():.3f}, told {np.sum(np.abs(told) > LARGEST_GROWTH)} of {len(own)}; "
            f"a tenth larger {100 * np.mean(larger > LARGEST_GROWTH):.0f} %, "
            f"smaller {100 * np.mean(smaller < -LARGEST_GROWTH):.0f} %"
        )
    usual, weights = fitted(list(found.values()))
    print("USUAL", np.round(usual, 3).tolist(), "WEIGHTS", np.round(weights, 2).tolist())
    return 0


if __name__ == "__main__":
    sys.exit(main())
