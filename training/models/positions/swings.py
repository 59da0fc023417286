"""The swings from which it is learnt where positions lie, on their strips and with the truth.

The golfers are in none of the other splits. They are of several makes, half of them swing by clocks
drawn anew. Beside each swing as the service sees it the same one is learnt from seen otherwise.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import chain
from typing import Any, Final

import numpy as np

from service.analysis.events.positions import find_positions, to_refine
from service.analysis.events.positions.network import ALLOWED, ALLOWED_SHARE
from service.analysis.events.positions.strip import Strip, strip_of
from service.analysis.laid_out import LaidOut, lay_out
from service.analysis.types import BoolArray, FloatArray, Source, SwingAnalysis, View
from training.data.augmented.other_clocks import reclocked
from training.data.augmented.restless import restless
from training.data.augmented.spoilt import spoilt
from training.data.sources import Clip, FilmedSwing, clips_of
from training.models.positions.network import Examples
from training.processes import spread_over

SEED: Final[int] = 5
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


def training_set(golfers: int, seed: int = SEED, jobs: int = 1) -> TrainingSet:
    """Swings of so many golfers of each make, by their own clocks and by others."""
    numbers = [
        (make, first + n) for n in range(golfers) for first in (0, _OTHER_CLOCKS) for make in MAKES
    ]
    simulate = partial(_swings_of_golfer, seed)
    of_each = spread_over(jobs, simulate, numbers, "positions golfers")
    swings, own = zip(*chain.from_iterable(of_each), strict=True)
    return TrainingSet(swings, examples_of(swings), np.array(own))


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
