"""Learn where positions lie from all that is seen of a swing.

``python -m training.models.fit_positions`` writes the network of
:mod:`service.analysis.events.positions.network`. The golfers it learns from are in none of
the other splits. They are of several makes, half of them by clocks drawn anew; how its uncertainty
is scaled is what is left over on each make by a network learnt from the others.
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
from training.models.position_network import Examples, chances, fit_taught

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
"""Spread by which a moment that the strip hangs on is moved, in parts of the swing beside it."""
_SCALED: Final[float] = 0.03
_TILTED: Final[float] = 1.5
"""Spread of the logarithm of the player's size, and of the camera's tilt in degrees."""
_CUT: Final[float] = 0.15
"""Share of clips that are cut at the end, and of those at the start."""
_FEWEST_FRAMES: Final[int] = 10
_OUTLYING: Final[float] = 4.5
"""Errors allowed that a network leaves; beyond, a clip was misread and tells nothing of the
spread."""
_FEWEST: Final[int] = 30
"""Clips that tell a spread."""
_HELD: Final[float] = 0.965
"""Share of what is left that two uncertainties hold: 95 % and some more, as clips that were misread
are not among it."""
_UNTOLD: Final[tuple[float, float, float]] = (1.0, ALLOWED, 0.5)
"""Parts of the uncertainty where too few do."""
_DIGITS: Final[int] = 5


@dataclass(frozen=True)
class Lesson:
    """One swing on its strip, and where its positions truly are (seconds, shape (10,), NaN where
    not reached); ``asked`` says which the network is asked for by the service."""

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
class Taught:
    """Lessons and the same as examples for a network; ``own`` marks those as the service sees
    them, the others being made harder."""

    lessons: Sequence[Lesson]
    examples: Examples
    own: BoolArray

    def of(self, chosen: BoolArray) -> Taught:
        """The lessons for which a mask is true."""
        lessons = [lesson for lesson, kept in zip(self.lessons, chosen, strict=True) if kept]
        return Taught(lessons, self.examples.rows(chosen), self.own[chosen])

    @property
    def make(self) -> np.ndarray[Any, np.dtype[np.str_]]:
        """The make of each."""
        return np.array([lesson.make for lesson in self.lessons])


def lessons(
    golfers: int,
    seed: int = SEED,
    jobs: int = 1,
    makes: Sequence[str] = MAKES,
    *,
    quiet: bool = False,
) -> Taught:
    """What so many golfers of each make teach, by their own clocks and by others."""
    numbers = [
        (make, first + n) for n in range(golfers) for first in (0, _OTHER_CLOCKS) for make in makes
    ]
    teach = partial(_lessons_of_golfer, seed)
    bar = partial(tqdm, total=len(numbers), desc="positions golfers", disable=quiet)
    if jobs == 1:
        told = list(chain.from_iterable(bar(map(teach, numbers))))
    else:
        with ProcessPoolExecutor(jobs) as pool:
            told = list(chain.from_iterable(bar(pool.map(teach, numbers, chunksize=8))))
    some = [lesson for lesson, _ in told]
    own = np.array([as_seen for _, as_seen in told])
    return Taught(some, examples_of(some), own)


def _lessons_of_golfer(seed: int, golfer: tuple[str, int]) -> list[tuple[Lesson, bool]]:
    make, number = golfer
    rng = np.random.default_rng([seed, len(make), number])
    if number < _OTHER_CLOCKS:
        clips = clips_of(make, "train", seed, number)
    else:
        clips = clips_of(make, "train", seed, number, partial(_another, rng=rng))
    told: list[tuple[Lesson, bool]] = []
    for clip in clips:
        for recording in (clip.recording, spoilt(clip.recording, rng)):
            laid = lay_out(recording)
            if isinstance(laid, SwingAnalysis) or laid.orientation.view.value is not clip.view:
                continue
            as_seen = recording is clip.recording
            times, asked = rough_times(laid)
            if not as_seen:
                laid, times = _made_harder(laid, times, rng)
            one = lesson_of(clip, make, laid, times, asked)
            if one is not None:
                told.append((one, as_seen))
    return told


def _another(motion: FilmedSwing, rng: np.random.Generator) -> FilmedSwing:
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


def lesson_of(
    clip: Clip, make: str, laid: LaidOut, times: Mapping[int, float], asked: BoolArray
) -> Lesson | None:
    """What one clip teaches; ``None`` where it can't be laid on a strip."""
    view = laid.orientation.view.value
    strip = strip_of(laid.poses, laid.tracks, view, laid.point_error, times)
    if strip is None:
        return None
    half = replace(strip, signals=strip.signals.astype(np.float16))
    truth = clip.motion.position_times - clip.start
    clock = laid.tracks.times
    truth = np.where((truth >= clock[0]) & (truth <= clock[-1]), truth, np.nan)
    return Lesson(make, view, half, laid.tracks.frame, truth, asked)


def _made_harder(
    laid: LaidOut, times: Mapping[int, float], rng: np.random.Generator
) -> tuple[LaidOut, dict[int, float]]:
    """The same swing looked at otherwise: hung on other moments, larger, tilted, cut off."""
    turn = np.exp(_SCALED * rng.standard_normal()) * _turned(_TILTED * rng.standard_normal())
    tracks = replace(laid.tracks, hands=laid.tracks.hands @ turn, hips=laid.tracks.hips @ turn)
    hung = sorted({1, 4, 7, 10} & set(times))
    parts = np.diff([times[k] for k in hung])
    moved = dict(times)
    for k, number in enumerate(hung):
        beside = min(parts[max(k - 1, 0) : k + 1], default=0.0)
        moved[number] += _MOVED * float(beside * rng.standard_normal())
    harder = replace(laid, poses=laid.poses @ turn, tracks=tracks)
    return _cut(harder, moved, rng)


def _turned(degrees: float) -> FloatArray:
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    return np.array([[c, s], [-s, c]])


def _cut(
    laid: LaidOut, times: dict[int, float], rng: np.random.Generator
) -> tuple[LaidOut, dict[int, float]]:
    """Now and then the clip ends or starts within the swing."""
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


def examples_of(lessons: Sequence[Lesson]) -> Examples:
    """Lessons as a network takes them."""
    first = np.array([lesson.strip.clock[0] for lesson in lessons])
    return Examples(
        signals=np.stack([lesson.strip.signals for lesson in lessons]),
        about=np.stack([lesson.strip.about for lesson in lessons]),
        clock=(np.stack([x.strip.clock for x in lessons]) - first[:, None]).astype(np.float32),
        truth=(np.stack([x.truth for x in lessons]) - first[:, None]).astype(np.float32),
        allowed=np.array([lesson.allowed for lesson in lessons], dtype=np.float32),
    )


def learn(
    taught: Taught, rounds: int = ROUNDS, *, quiet: bool = False
) -> tuple[dict[str, FloatArray], dict[str, dict[str, FloatArray]]]:
    """Weights from every make, and by make those learnt from the others; as many networks at once
    as there are accelerators."""
    makes = taught.make
    left_out = [make for make in sorted(set(makes)) if (makes != make).any()]
    rows = [np.flatnonzero(makes != make) for make in left_out]
    free: SimpleQueue[jax.Device] = SimpleQueue()
    for device in jax.local_devices():
        free.put(device)

    def one(some: np.ndarray[Any, Any]) -> dict[str, FloatArray]:
        device = free.get()
        try:
            with jax.default_device(device):
                return dict(fit_taught(taught.examples, rounds, progress, some))
        finally:
            free.put(device)

    progress = partial(tqdm, desc="positions network", disable=quiet)
    with ThreadPoolExecutor(len(jax.local_devices())) as pool:
        every, *others = pool.map(one, [np.arange(len(makes)), *rows])
    return every, dict(zip(left_out, others, strict=True))


def placed(weights: Mapping[str, FloatArray], taught: Taught) -> tuple[FloatArray, FloatArray]:
    """Times and spreads that a network tells, each of shape (n, 10), seconds."""
    told = chances(weights, taught.examples)
    read = [read_off(each, lesson.strip) for each, lesson in zip(told, taught.lessons, strict=True)]
    return np.array([r.times for r in read]), np.array([r.spread for r in read])


class Left(NamedTuple):
    """What a network leaves on a lesson of a make that it was not learnt from.

    ``off`` and ``spread`` are seconds, each of shape (10,); ``slow`` says how much slower than at
    full speed it told the swing to go.
    """

    lesson: Lesson
    off: FloatArray
    spread: FloatArray
    slow: float


def left_over(taught: Taught, others: Mapping[str, Mapping[str, FloatArray]]) -> list[Left]:
    """What networks leave on the makes that they were not learnt from, by which they go by name."""
    seen, left = taught.of(taught.own), []
    for make, weights in others.items():
        own = seen.of(seen.make == make)
        times, spread = placed(weights, own)
        off = times - np.array([lesson.truth for lesson in own.lessons])
        slow = slowness(times)[:, 0].tolist()
        left += [Left(*each) for each in zip(own.lessons, off, spread, slow, strict=True)]
    return left


def scales(left: Sequence[Left]) -> dict[str, list[list[float]]]:
    """What makes uncertainties of spreads, by view."""
    return {
        view.value: [_scale([x for x in left if x.lesson.view is view], k) for k in range(10)]
        for view in View
    }


def _scale(left: Sequence[Left], k: int) -> list[float]:
    """Parts of one position's uncertainty that grow with the spread, with how slow the swing is and
    with the frame, as likely as can be; then as large as two of them need to hold what they should
    on the make where they need most, as a player of yet another make may be as far off."""
    kept = [
        x for x in left if x.lesson.asked[k] and abs(x.off[k]) < _OUTLYING * x.lesson.allowed
    ]  # NaN is not
    if len(kept) < _FEWEST:
        return list(_UNTOLD)
    square = np.array([x.off[k] for x in kept]) ** 2
    parts = np.array([(x.spread[k], x.slow, x.lesson.frame) for x in kept]) ** 2

    def unlikely(log_shares: FloatArray) -> float:
        told = parts @ np.exp(log_shares)
        return float(np.mean(np.log(told) + square / told))

    typical = np.log(square.mean() / parts.mean(axis=0) / 3.0)
    bounds = [(each - 12.0, each + 4.0) for each in typical]
    shares = np.exp(minimize(unlikely, typical, bounds=bounds).x)
    held = _needed(np.sqrt(square / (parts @ shares)), np.array([x.lesson.make for x in kept]))
    return [round(float(held / 2.0 * np.sqrt(each)), _DIGITS) for each in shares]


def _needed(off: FloatArray, make: np.ndarray[Any, np.dtype[np.str_]]) -> float:
    """How many uncertainties hold what they should of all, and of each make that tells it."""
    each = [off, *(off[make == one] for one in np.unique(make))]
    return max(float(np.quantile(some, _HELD)) for some in each if len(some) >= _FEWEST)


def model_of(weights: Mapping[str, FloatArray], scales: Mapping[str, list[list[float]]]) -> bytes:
    """A network as the service reads it."""
    return to_onnx(weights, {SPREAD: json.dumps(scales)})


def main() -> None:
    """Learn from every make, and from all but each one for how sure the network may be."""
    parser = argparse.ArgumentParser(description=main.__doc__)
    parser.add_argument("--golfers", type=int, default=GOLFERS, help="of each make")
    parser.add_argument("--rounds", type=int, default=ROUNDS, help="times each lesson is seen")
    asked = parser.parse_args()
    taught = lessons(asked.golfers, jobs=os.cpu_count() or 1)
    weights, others = learn(taught, asked.rounds)
    sure = scales(left_over(taught, others))
    for make, its in others.items():
        learnt_without(make).write_bytes(model_of(its, sure))
    served = Path(service.analysis.events.positions.__file__).parent / FILE
    served.write_bytes(model_of(weights, sure))


if __name__ == "__main__":
    main()
