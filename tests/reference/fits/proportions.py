"""The table by which a squeezed picture is told, made anew.

``python -m tests.reference.fits.proportions`` prints it, and for each file of swings how a table
fitted without its source does on it: how far the factor of pictures that are not squeezed strays,
in how many it would be beyond doubt, and in how many it is once their widths are changed as by
the commonest mistakes. Last, how the table in use does on simulated and replayed swings that it was
not made from.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import islice
from typing import Final, NamedTuple

import numpy as np

from service.analysis.footage.picture.proportions import EXTENTS, limits, log_extents
from service.analysis.measured import MeasuredSwing, measure_swings
from service.analysis.types import FloatArray, SwingRecording, View
from tests.reference.clips import FOLDER, GOLF, available, read, recording
from tests.reference.motion_capture.replayed import replayed
from training.simulator import EstimatorNoise, film, random_camera, random_swing
from training.simulator.keyed import random_keyed_swing, random_player

_SIMULATED: Final = 100
_REPLAYED: Final = 40
_FRESH: Final = 200, 100
"""Simulated and replayed swings that the table was not made from."""
_SEED: Final = 77
_OWN: Final = 0.1
"""Share of its own variance that each extent's is raised by, so that few clips don't decide."""
_MISTAKES: Final = {"3:4": 3 / 4, "4:3": 4 / 3, "9:16": 9 / 16, "16:9": 16 / 9}
_SAME_CLIPS: Final = {"estimated_golf_clips": "golf_clips"}
"""Files of clips that are in another too: a table made without one is made without both."""


class Sight(NamedTuple):
    """Extents of swings, shape (n_swings, n_extents), and how far the factor of each may go."""

    extents: FloatArray
    limits: FloatArray


def simulated(first: int = 0, count: int = _SIMULATED) -> Iterator[SwingRecording]:
    """Swings of two makes of golfers from both sides, as an estimator sees them."""
    for seed in range(first, first + count):
        rng = np.random.default_rng(seed)
        keyed = seed % 4 > 1
        motion = random_keyed_swing(rng, random_player(rng)) if keyed else random_swing(rng)
        camera = random_camera(rng, list(View)[seed % 2])
        yield film(motion, camera, fps=60.0, noise=EstimatorNoise(), rng=rng)


def played_again(seed: int, count: int) -> Iterator[SwingRecording]:
    """Captured swings from both sides."""
    clips = (clip for number in range(count) for clip in replayed(seed, number))
    return (clip.recording for clip in islice(clips, count))


def poses_looked_at(swing: MeasuredSwing) -> FloatArray:
    """The poses of a swing, as the report on the footage looks at them: for twice its length."""
    found = [p.frame for p in swing.positions if p.frame is not None]
    first = 0 if swing.positions[0].in_doubt else int(found[0])
    held = swing.positions[-1].in_doubt
    stop = len(swing.poses) if held else int(np.ceil(found[-1])) + 1
    return swing.poses[first : 2 * stop - first]


def sight_of(clips: Sequence[SwingRecording], factor: float) -> Sight:
    """What is seen of clips whose widths are changed by a factor."""
    by = np.array([factor, 1.0])
    measured = measure_swings([replace(clip, points=clip.points * by) for clip in clips])
    swings = [swing for swing in measured if isinstance(swing, MeasuredSwing)]
    past_impact = [any(p.frame is not None for p in swing.positions[7:]) for swing in swings]
    return Sight(log_extents([poses_looked_at(swing) for swing in swings]), limits(past_impact))


def changed(clips: Sequence[SwingRecording]) -> dict[float, Sight]:
    """What is seen by the factor by which widths are changed: none and those of mistakes."""
    return {factor: sight_of(clips, factor) for factor in (1.0, *_MISTAKES.values())}


def _without(name: str, found: Mapping[str, Mapping[float, Sight]]) -> list[FloatArray]:
    """The extents of every other source."""
    own = _source(name)
    return [each[1.0].extents for other, each in found.items() if _source(other) != own]


def _source(name: str) -> str:
    return _SAME_CLIPS.get(name, name)


def fitted(extents: list[FloatArray]) -> tuple[FloatArray, FloatArray]:
    """Usual values and weights, each of shape (n_extents,): all files count alike.

    The weights tell the factor with the least variance of all that tell it without bias (the best
    linear unbiased estimator).
    """
    usual = np.mean([np.nanmean(each, axis=0) for each in extents], axis=0)
    off = [np.where(np.isnan(each), usual, each) - usual for each in extents]
    spread = np.mean([each.T @ each / len(each) for each in off], axis=0)
    spread += _OWN * np.diag(np.diag(spread))
    weights = np.linalg.solve(spread, np.ones(len(usual)))
    return usual, weights / weights.sum()


def factors(extents: FloatArray, usual: FloatArray, weights: FloatArray) -> FloatArray:
    """Logarithm of the factor of each swing, shape (n_swings,)."""
    return np.nan_to_num(extents - usual) @ weights


def told(found: Mapping[float, Sight], table: tuple[FloatArray, FloatArray]) -> str:
    """How a table does on swings, given what is seen of them by the factor of their widths."""
    true = factors(found[1.0].extents, *table)
    beyond = np.sum(np.abs(true) > found[1.0].limits)
    shares = []
    for name, factor in _MISTAKES.items():
        seen = found[factor]
        wrong = factors(seen.extents, *table) * np.sign(np.log(factor))
        shares.append(f"{name} {100 * np.mean(wrong > seen.limits):.0f} %")
    return (
        f"mean {true.mean():5.2f}, spread {true.std():.2f}, {true.min():5.2f} to {true.max():.2f}, "
        f"beyond doubt {beyond} of {len(true)}; told of {', '.join(shares)}"
    )


def main() -> int:
    """Print the table and what it is worth."""
    if not available():
        print(f"No reference data in {FOLDER}; set SWING_REFERENCE_DIR.", file=sys.stderr)
        return 2
    clips = {name: [recording(clip) for clip in read(name)] for name in GOLF}
    clips["simulated"] = list(simulated())
    clips["replayed"] = list(played_again(_SEED, _REPLAYED))
    found = {name: changed(own) for name, own in clips.items()}
    for name, own in found.items():
        print(f"{name:22s}{told(own, fitted(_without(name, found)))}")
    table = fitted([own[1.0].extents for own in found.values()])
    fresh, again = _FRESH
    print(f"{'simulated anew':22s}{told(changed(list(simulated(_SIMULATED, fresh))), table)}")
    print(f"{'replayed anew':22s}{told(changed(list(played_again(_SEED + 1, again))), table)}")
    true = np.concatenate([factors(own[1.0].extents, *table) for own in found.values()])
    print(f"all: {true.min():.2f} to {true.max():.2f}, spread {true.std():.2f}")
    for extent, u, w in zip(EXTENTS, *table, strict=True):
        print(f'    Extent("{extent.name}", {u:.2f}, {w:.2f}),')
    return 0


if __name__ == "__main__":
    sys.exit(main())
