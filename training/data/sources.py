"""Where simulated clips come from: golfers of several makes, each with footage of its own.

What one make has in common with another is the camera; how the body moves differs, and so does
what a fault does to it. What is learnt from some is held against the others.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import partial
from types import MappingProxyType
from typing import Final, Protocol

import numpy as np

from service.analysis.types import Intent, SwingRecording, View
from training.data.draws import (
    PHONE_NOISE,
    PHONE_RATE,
    Footage,
    filmed,
    phone_footage,
    random_amounts,
    random_footage,
    random_intent,
    random_length,
)
from training.data.retimed import retimed_swing
from training.data.shifted import other_errors, other_swing, random_other_golfer
from training.data.truth import TrueSwing
from training.simulator import FaultAmounts, Movement, random_golfer, random_swing
from training.simulator.keyed import random_keyed_swing, random_player

_PHONE: Final[float] = 0.35
"""Share of clips with the footage of a phone."""
_GOOD_RATE: Final[float] = 60.0
"""Frames a second from which a clip is of the best grade."""


class FilmedSwing(TrueSwing, Movement, Protocol):
    """A swing that can be filmed and whose truth is known."""

    @property
    def swing_start(self) -> float:
        """When the swing begins, from rest, seconds."""


@dataclass(frozen=True)
class Clip:
    """One simulated clip and what is known about it.

    ``start`` is the time of its first frame on the clock of the motion; ``clean`` says that no
    fault was put in; ``setting`` names what is told apart within a source (a camera's distance,
    say); ``not_placed`` are numbers of positions whose true times are not known well enough.
    ``truth`` holds true measures by name where the source tells them itself; else they are taken
    on the motion (:mod:`training.data.truth`).
    """

    motion: FilmedSwing
    recording: SwingRecording
    start: float
    footage: Footage
    view: View
    clean: bool
    setting: str = ""
    not_placed: tuple[int, ...] = ()
    truth: Mapping[str, float] | None = None

    @property
    def grade(self) -> str:
        """``club`` (seen, 60 frames a second or more), ``phone`` or ``other``."""
        if self.footage.club and self.footage.rate >= _GOOD_RATE:
            return "club"
        noise = self.footage.noise
        noisy = noise.level >= PHONE_NOISE or noise.measured > 0.0
        return "phone" if self.footage.rate <= PHONE_RATE and noisy else "other"


Reclock = Callable[[FilmedSwing], FilmedSwing]
"""Makes of a motion one by another clock."""


def _as_it_is(motion: FilmedSwing) -> FilmedSwing:
    return motion


Swing = Callable[[FaultAmounts, Intent, float], FilmedSwing]
"""A golfer's swing with some faults, of an intent and a length (1 for a full one)."""


def joint_angles(rng: np.random.Generator, reclock: Reclock = _as_it_is) -> Iterator[Clip]:
    """A golfer built from curves of joint angles: two swings, each from both sides."""
    return _two_swings(partial(random_swing, rng, random_golfer(rng)), reclock, rng)


def shifted(rng: np.random.Generator, reclock: Reclock = _as_it_is) -> Iterator[Clip]:
    """The same with other proportions, tempo, ways of a fault and errors of the estimator."""
    for clip in _two_swings(partial(other_swing, rng, random_other_golfer(rng)), reclock, rng):
        yield replace(clip, recording=other_errors(clip.recording, clip.footage, rng))


def keyed(rng: np.random.Generator, reclock: Reclock = _as_it_is) -> Iterator[Clip]:
    """A golfer of key positions in space: two swings, each from both sides."""
    return _two_swings(partial(random_keyed_swing, rng, random_player(rng)), reclock, rng)


def retimed(rng: np.random.Generator, reclock: Reclock = _as_it_is) -> Iterator[Clip]:
    """Bodies of joint angles moved by other clocks: two swings, each from both sides."""
    return _two_swings(partial(retimed_swing, rng, random_golfer(rng)), reclock, rng)


def _two_swings(swing: Swing, reclock: Reclock, rng: np.random.Generator) -> Iterator[Clip]:
    """Two swings of one golfer, each with what is drawn for it and filmed from both sides."""
    for _ in range(2):
        intent, length, clean, amounts = _drawn(rng)
        yield from _from_both_sides(reclock(swing(amounts, intent, length)), clean, rng)


def _drawn(rng: np.random.Generator) -> tuple[Intent, float, bool, FaultAmounts]:
    """Intent, length, whether no fault is put in, and the faults that are."""
    intent, length = random_intent(rng), random_length(rng)
    co_occurrence, amounts = random_amounts(rng, intent)
    return intent, length, co_occurrence == "clean", amounts


def _from_both_sides(motion: FilmedSwing, clean: bool, rng: np.random.Generator) -> Iterator[Clip]:
    for view in (View.FACE_ON, View.DOWN_THE_LINE):
        footage = phone_footage(rng) if rng.random() < _PHONE else random_footage(rng)
        recording, start = filmed(motion, view, footage, rng)
        yield Clip(motion, recording, start, footage, view, clean)


SOURCES: Final[Mapping[str, Callable[[np.random.Generator, Reclock], Iterator[Clip]]]] = (
    MappingProxyType(
        {"joint angles": joint_angles, "shifted": shifted, "keyed": keyed, "retimed": retimed}
    )
)
"""Every make of golfer by name; the order seeds them, so that a new one goes last."""
SPLITS: Final[tuple[str, ...]] = ("train", "test")


def clips_of(
    source: str, split: str, seed: int, number: int, reclock: Reclock = _as_it_is
) -> Iterator[Clip]:
    """The clips of one golfer; no golfer and no camera is in two splits or sources.

    Parameters
    ----------
    reclock
        Makes of each motion one by another clock before it is filmed
        (:mod:`training.data.augmented.other_clocks`).
    """
    place = SPLITS.index(split), list(SOURCES).index(source)
    return SOURCES[source](np.random.default_rng([seed, *place, number]), reclock)
