"""The table by which a squeezed picture is told, made anew.

``python -m tests.reference.fits.proportions`` prints it, and for each source of swings how a table
fitted on the others does on it: how far the factor of pictures that are not squeezed strays, in how
many it would be beyond doubt, and in how many it is once they are squeezed to half their width.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from typing import Final

import numpy as np

from service.analysis.events.proportions import BEYOND_DOUBT, EXTENTS, log_extents
from service.analysis.measured import MeasuredSwing, measure_swing
from service.analysis.types import FloatArray, SwingRecording, View
from tests.reference.clips import FOLDER, GOLF, available, read, recording
from training.simulator import EstimatorNoise, film, random_camera, random_swing
from training.simulator.keyed import random_keyed_swing, random_player

_SIMULATED: Final = 100
_N_HEIGHTS: Final = 2
_OWN: Final = 0.1
"""Share of its own variance that each extent's is raised by, so that few clips don't decide."""


def simulated() -> Iterator[SwingRecording]:
    """Swings of two makes of golfers from both sides, as an estimator sees them."""
    for seed in range(_SIMULATED):
        rng = np.random.default_rng(seed)
        keyed = seed % 4 > 1
        motion = random_keyed_swing(rng, random_player(rng)) if keyed else random_swing(rng)
        camera = random_camera(rng, list(View)[seed % 2])
        yield film(motion, camera, fps=60.0, noise=EstimatorNoise(), rng=rng)


def swing_poses(clip: SwingRecording) -> FloatArray | None:
    """The poses of the swing in a clip, as the report on the footage looks at them."""
    swing = measure_swing(clip)
    if not isinstance(swing, MeasuredSwing):
        return None
    first = next(p.frame for p in swing.positions if p.frame is not None)
    return swing.poses[int(first) :]


def sources() -> dict[str, FloatArray]:
    """Extents of shape (n_swings, n_extents) by source."""
    clips = {name: [recording(clip) for clip in read(name)] for name in GOLF}
    clips["simulated"] = list(simulated())
    found = {}
    for name, recordings in clips.items():
        poses = [poses for each in recordings if (poses := swing_poses(each)) is not None]
        found[name] = log_extents(poses)
    return found


def fitted(extents: list[FloatArray]) -> tuple[FloatArray, FloatArray]:
    """Usual values and weights, each of shape (n_extents,): all sources count alike.

    The weights tell the factor with the least variance of all that tell it without bias (the best
    linear unbiased estimator).
    """
    usual = np.mean([np.nanmean(each, axis=0) for each in extents], axis=0)
    off = [np.where(np.isnan(each), usual, each) - usual for each in extents]
    spread = np.mean([each.T @ each / len(each) for each in off], axis=0)
    spread += _OWN * np.diag(np.diag(spread))
    changed = np.ones(len(usual))
    changed[-_N_HEIGHTS:] = 0.0
    weights = np.linalg.solve(spread, changed)
    return usual, weights / (weights @ changed)


def factors(extents: FloatArray, usual: FloatArray, weights: FloatArray) -> FloatArray:
    """Logarithm of the factor of each swing, shape (n_swings,)."""
    return np.nan_to_num(extents - usual) @ weights


def main() -> int:
    """Print the table and what it is worth."""
    if not available():
        print(f"No reference data in {FOLDER}; set SWING_REFERENCE_DIR.", file=sys.stderr)
        return 2
    found = sources()
    for name, own in found.items():
        others = [each for other, each in found.items() if other != name]
        told = factors(own, *fitted(others))
        squeezed = np.mean(told + np.log(0.5) < -BEYOND_DOUBT)
        print(
            f"{name:22s}fitted on the others: {told.min():5.2f} to {told.max():4.2f}, "
            f"beyond doubt {np.sum(np.abs(told) > BEYOND_DOUBT)} of {len(own)}, "
            f"squeezed to half {100 * squeezed:.0f} %"
        )
    usual, weights = fitted(list(found.values()))
    told = np.concatenate([factors(each, usual, weights) for each in found.values()])
    print(f"all: {told.min():.2f} to {told.max():.2f}, spread {told.std():.2f}")
    for extent, u, w in zip(EXTENTS, usual, weights, strict=True):
        print(f'    Extent("{extent.name}", {u:.2f}, {w:.2f}),')
    return 0


if __name__ == "__main__":
    sys.exit(main())
