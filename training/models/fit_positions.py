"""Learn where positions lie from all that is seen of a swing.

``python -m training.models.fit_positions`` writes the network of
:mod:`service.analysis.events.positions.network`. The golfers it learns from are in none of
the other splits. They are of several makes, half of them swing by clocks drawn anew. The scale of
its uncertainty comes from the residuals on each make of a network learnt from the others.
"""

from __future__ import annotations

import argparse
import json
import os
from collections.abc import Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from dataclasses import dataclass, replace
from functools import partial
from itertools import chain
from pathlib import Path
from queue import SimpleQueue
from typing import Any, Final, NamedTuple

import jax
import numpy as np
from scipy.optimize import minimize
from tqdm import tqdm

import service.analysis.events.positions
from service.analysis.events.positions import find_positions, to_refine
from service.analysis.events.positions.network import (
    ALLOWED,
    ALLOWED_SHARE,
    FILE,
    SPREAD,
    read_off,
    slowness,
)
from service.analysis.events.positions.strip import Strip, strip_of
from service.analysis.laid_out import LaidOut, lay_out
from service.analysis.types import BoolArray, FloatArray, Source, SwingAnalysis, View
from training.data.augmented.other_clocks import reclocked
from training.data.augmented.restless import restless
from training.data.augmented.spoilt import spoilt
from training.data.sources import Clip, FilmedSwing, clips_of
from training.models.left_out import learnt_without
from training.models.network_to_onnx import to_onnx
from training.models.position_network import Examples, chances, fit_distilled

SEED: Final[int] = 5
GOLFERS: Final[int] = 1400
"""Golfers of each make by their own clocks, and as many by other ones."""
ROUNDS: Final[int] = 32
MAKES: Final[tuple[str, ...]] = ("joint angles", "shifted", "retimed", "keyed")
"""Makes of golfers that the network is learnt from."""
_OTHER_CLOCKS: Final[int] = 1_000_000
"""From this number on golfers swing by other clocks."""
_RESTLESS: Final[float] = 0.9
"""Share of those whose players are restless."""
_MOVED: Final[float] = 0.05
"""Spread by which an anchor of the strip is moved, in parts of the swing beside it."""
_SCALED: Final[float] = 0.03
_TILTED: Final[float] = 1.5
"""Spread of the logarithm of the player's size, and of the camera's tilt in degrees."""
_CUT: Final[float] = 0.15
"""Share of clips that are cut at the end, and of those at the start."""
_FEWEST_FRAMES: Final[int] = 10
_OUTLYING: Final[float] = 4.5
"""Residuals beyond so many errors allowed come from a misread clip and tell nothing of the
spread."""
_FEWEST: Final[int] = 30
"""Clips needed to fit the scale of an uncertainty."""
_COVERED: Final[float] = 0.965
"""Share of the residuals within two uncertainties: 95 % and some more, as misread clips are left
out."""
_DEFAULT_SCALES: Final[tuple[float, float, float]] = (1.0, ALLOWED, 0.5)
"""The scales of an uncertainty that too few clips tell."""
_DIGITS: Final[int] = 5


@dataclass(frozen=True)
class LabelledSwing:
    """One swing on its strip, with the true times of its positions.

    Attributes
    ----------
    frame
        Seconds between frames.
    truth : array of shape (10,)
        Seconds; NaN for a position that is not reached.
    asked : array of shape (10,)
        Which positions the service asks the network for.
    """

    make: str
    view: View
    strip: Strip
    frame: float
    truth: FloatArray
    asked: BoolArray

    @property
    def allowed(self) -> float:
        """Seconds by which a position may be off."""
        return max(ALLOWED, ALLOWED_SHARE * self.strip.length)


@dataclass(frozen=True)
class TrainingSet:
    """Swings, and the same as examples for a network.

    ``own``, of shape (n,), marks those as the service sees them; the others are augmented.
    """

    swings: Sequence[LabelledSwing]
    examples: Examples
    own: BoolArray

    def of(self, chosen: BoolArray) -> TrainingSet:
        """The swings for which a mask of shape (n,) is true."""
        swings = [swing for swing, kept in zip(self.swings, chosen, strict=True) if kept]
        return TrainingSet(swings, self.examples.rows(chosen), self.own[chosen])

    @property
    def make(self) -> np.ndarray[Any, np.dtype[np.str_]]:
        """The make of each swing, shape (n,)."""
        return np.array([swing.make for swing in self.swings])


def training_set(
    golfers: int,
    seed: int = SEED,
    jobs: int = 1,
    makes: Sequence[str] = MAKES,
    *,
    quiet: bool = False,
) -> TrainingSet:
    """Swings of so many golfers of each make, by their own clocks and by others."""
    numbers = [
        (make, first + n) for n in range(golfers) for first in (0, _OTHER_CLOCKS) for make in makes
    ]
    simulate = partial(_swings_of_golfer, seed)
    bar = partial(tqdm, total=len(numbers), desc="positions golfers", disable=quiet)
    if jobs == 1:
        drawn = list(chain.from_iterable(bar(map(simulate, numbers))))
    else:
        with ProcessPoolExecutor(jobs) as pool:
            drawn = list(chain.from_iterable(bar(pool.map(simulate, numbers, chunksize=8))))
    swings = [swing for swing, _ in drawn]
    own = np.array([as_seen for _, as_seen in drawn])
    return TrainingSet(swings, examples_of(swings), own)


def _swings_of_golfer(seed: int, golfer: tuple[str, int]) -> list[tuple[LabelledSwing, bool]]:
    """Swings of a golfer, given by make and number, and whether each is as the service sees it."""
    make, number = golfer
    rng = np.random.default_rng([seed, len(make), number])
    if number < _OTHER_CLOCKS:
        clips = clips_of(make, "train", seed, number)
    else:
        clips = clips_of(make, "train", seed, number, partial(_by_another_clock, rng=rng))
    swings: list[tuple[LabelledSwing, bool]] = []
    for clip in clips:
        for recording in (clip.recording, spoilt(clip.recording, rng)):
            laid = lay_out(recording)
            if isinstance(laid, SwingAnalysis) or laid.orientation.view.value is not clip.view:
                continue
            as_seen = recording is clip.recording
            times, asked = rough_times(laid)
            if not as_seen:
                laid, times = _augmented(laid, times, rng)
            swing = labelled_swing(clip, make, laid, times, asked)
            if swing is not None:
                swings.append((swing, as_seen))
    return swings


def _by_another_clock(motion: FilmedSwing, rng: np.random.Generator) -> FilmedSwing:
    """A motion by another clock, and in most cases by a restless player."""
    other = reclocked(motion, rng)
    return restless(other, rng) if rng.random() < _RESTLESS else other


def rough_times(laid: LaidOut) -> tuple[dict[int, float], BoolArray]:
    """Where thresholds place the positions, seconds by number, and which of the ten the network is
    asked for."""
    view = laid.orientation.view.value
    about = laid.poses, laid.tracks, laid.downswing, view, laid.point_error
    rough = find_positions(*about, refined=False)
    asked = [
        p.time is not None and to_refine(p.number, inferred=p.source is Source.INFERRED)
        for p in rough
    ]
    return {p.number: p.time for p in rough if p.time is not None}, np.array(asked)


def labelled_swing(
    clip: Clip, make: str, laid: LaidOut, times: Mapping[int, float], asked: BoolArray
) -> LabelledSwing | None:
    """The swing of a clip with its true times; ``None`` where it can't be laid on a strip.

    Parameters
    ----------
    times
        Seconds by number of the positions at which the strip is anchored.
    asked : array of shape (10,)
    """
    view = laid.orientation.view.value
    strip = strip_of(laid.poses, laid.tracks, view, laid.point_error, times)
    if strip is None:
        return None
    half = replace(strip, signals=strip.signals.astype(np.float16))
    truth = clip.motion.position_times - clip.start
    clock = laid.tracks.times
    truth = np.where((truth >= clock[0]) & (truth <= clock[-1]), truth, np.nan)
    return LabelledSwing(make, view, half, laid.tracks.frame, truth, asked)


def _augmented(
    laid: LaidOut, times: Mapping[int, float], rng: np.random.Generator
) -> tuple[LaidOut, dict[int, float]]:
    """The same swing seen otherwise: anchored at other moments, larger, tilted, cropped in time."""
    turn = np.exp(_SCALED * rng.standard_normal()) * _rotation(_TILTED * rng.standard_normal())
    tracks = replace(laid.tracks, hands=laid.tracks.hands @ turn, hips=laid.tracks.hips @ turn)
    anchored = sorted({1, 4, 7, 10} & set(times))
    parts = np.diff([times[k] for k in anchored])
    moved = dict(times)
    for k, number in enumerate(anchored):
        beside = min(parts[max(k - 1, 0) : k + 1], default=0.0)
        moved[number] += _MOVED * float(beside * rng.standard_normal())
    harder = replace(laid, poses=laid.poses @ turn, tracks=tracks)
    return _cropped(harder, moved, rng)


def _rotation(degrees: float) -> FloatArray:
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    return np.array([[c, s], [-s, c]])


def _cropped(
    laid: LaidOut, times: dict[int, float], rng: np.random.Generator
) -> tuple[LaidOut, dict[int, float]]:
    """The clip, which now and then ends or starts within the swing."""
    clock, top = laid.tracks.times, times.get(4, 0.0)
    first, last = float(clock[0]), float(clock[-1])
    if rng.random() < _CUT and last > top + 0.1:
        last = float(rng.uniform(top + 0.1, last))
    if rng.random() < _CUT and first < top - 0.2:
        first = float(rng.uniform(first, top - 0.2))
    kept = (clock >= first) & (clock <= last)
    if kept.sum() < _FEWEST_FRAMES:
        return laid, times
    tracks = replace(
        laid.tracks,
        times=clock[kept],
        hands=laid.tracks.hands[kept],
        hips=laid.tracks.hips[kept],
    )
    still = {number: time for number, time in times.items() if first <= time <= last}
    return replace(laid, poses=laid.poses[kept], tracks=tracks), still


def examples_of(swings: Sequence[LabelledSwing]) -> Examples:
    """Swings as a network takes them."""
    first = np.array([swing.strip.clock[0] for swing in swings])
    return Examples(
        signals=np.stack([swing.strip.signals for swing in swings]),
        about=np.stack([swing.strip.about for swing in swings]),
        clock=(np.stack([x.strip.clock for x in swings]) - first[:, None]).astype(np.float32),
        truth=(np.stack([x.truth for x in swings]) - first[:, None]).astype(np.float32),
        allowed=np.array([swing.allowed for swing in swings], dtype=np.float32),
    )


def learn(
    data: TrainingSet, rounds: int = ROUNDS, *, quiet: bool = False
) -> tuple[dict[str, FloatArray], dict[str, dict[str, FloatArray]]]:
    """Weights from every make, and by make those learnt from the others; as many networks at once
    as there are accelerators."""
    makes = data.make
    left_out = [make for make in sorted(set(makes)) if (makes != make).any()]
    rows = [np.flatnonzero(makes != make) for make in left_out]
    free: SimpleQueue[jax.Device] = SimpleQueue()
    for device in jax.local_devices():
        free.put(device)

    def one(some: np.ndarray[Any, Any]) -> dict[str, FloatArray]:
        device = free.get()
        try:
            with jax.default_device(device):
                return dict(fit_distilled(data.examples, rounds, progress, some))
        finally:
            free.put(device)

    progress = partial(tqdm, desc="positions network", disable=quiet)
    with ThreadPoolExecutor(len(jax.local_devices())) as pool:
        every, *others = pool.map(one, [np.arange(len(makes)), *rows])
    return every, dict(zip(left_out, others, strict=True))


def predicted(
    weights: Mapping[str, FloatArray], data: TrainingSet
) -> tuple[FloatArray, FloatArray]:
    """Times and spreads that a network predicts, each of shape (n, 10), seconds."""
    all_chances = chances(weights, data.examples)
    read = [read_off(each, x.strip) for each, x in zip(all_chances, data.swings, strict=True)]
    return np.array([r.times for r in read]), np.array([r.spread for r in read])


class Residual(NamedTuple):
    """How far a network is off on a swing of a make that it was not learnt from.

    ``off`` and ``spread`` are seconds, each of shape (10,); ``slow`` is how many times slower than
    at full speed the swing goes by the predicted times.
    """

    swing: LabelledSwing
    off: FloatArray
    spread: FloatArray
    slow: float


def residuals(data: TrainingSet, others: Mapping[str, Mapping[str, FloatArray]]) -> list[Residual]:
    """Residuals of networks on the makes that they were not learnt from.

    Parameters
    ----------
    others
        Weights by the make that was left out.
    """
    seen, found = data.of(data.own), []
    for make, weights in others.items():
        own = seen.of(seen.make == make)
        times, spread = predicted(weights, own)
        off = times - np.array([swing.truth for swing in own.swings])
        slow = slowness(times)[:, 0].tolist()
        found += [Residual(*each) for each in zip(own.swings, off, spread, slow, strict=True)]
    return found


def scales(residuals: Sequence[Residual]) -> dict[str, list[list[float]]]:
    """What turns spreads into uncertainties, by view: three factors for each position."""
    return {
        view.value: [_scale([x for x in residuals if x.swing.view is view], k) for k in range(10)]
        for view in View
    }


def _scale(residuals: Sequence[Residual], k: int) -> list[float]:
    """Factors of one position's uncertainty for the spread, for how slow the swing is and for the
    time between frames.

    They are the most likely ones, then enlarged until two uncertainties cover what they should on
    the make that needs most, as a player of yet another make may be as far off.
    """
    kept = [
        x for x in residuals if x.swing.asked[k] and abs(x.off[k]) < _OUTLYING * x.swing.allowed
    ]  # NaN is not
    if len(kept) < _FEWEST:
        return list(_DEFAULT_SCALES)
    square = np.array([x.off[k] for x in kept]) ** 2
    parts = np.array([(x.spread[k], x.slow, x.swing.frame) for x in kept]) ** 2

    def unlikely(log_shares: FloatArray) -> float:
        variance = parts @ np.exp(log_shares)
        return float(np.mean(np.log(variance) + square / variance))

    typical = np.log(square.mean() / parts.mean(axis=0) / 3.0)
    bounds = [(each - 12.0, each + 4.0) for each in typical]
    shares = np.exp(minimize(unlikely, typical, bounds=bounds).x)
    makes = np.array([x.swing.make for x in kept])
    covering = _factor_that_covers(np.sqrt(square / (parts @ shares)), makes)
    return [round(float(covering / 2.0 * np.sqrt(each)), _DIGITS) for each in shares]


def _factor_that_covers(off: FloatArray, make: np.ndarray[Any, np.dtype[np.str_]]) -> float:
    """How many uncertainties cover the share they should of all, and of each make of enough clips.

    ``off``, of shape (n,), is in uncertainties; ``make``, of shape (n,), the make of each.
    """
    each = [off, *(off[make == one] for one in np.unique(make))]
    return max(float(np.quantile(some, _COVERED)) for some in each if len(some) >= _FEWEST)


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
