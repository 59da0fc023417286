"""Where clips come from: golfers of different makes, each filmed by cameras of its own."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Final, Protocol

import numpy as np

from service.analysis.types import SwingRecording, View
from training.data.dataset import VIEWS, clips_of_golfer
from training.data.draws import (
    PHONE_NOISE,
    PHONE_RATE,
    Footage,
    filmed,
    phone_footage,
    random_amounts,
    random_footage,
    random_intent,
)
from training.data.truth import TrueSwing
from training.simulator import Movement
from training.simulator.keyed import random_keyed_swing, random_player

_GOOD_RATE: Final[float] = 60.0
_PHONE_SHARE: Final[float] = 0.3
"""Of the keyed golfer's clips: how many are phone-grade by design."""


class FilmedSwing(TrueSwing, Movement, Protocol):
    """A swing that can be filmed and whose truth is known."""


@dataclass(frozen=True)
class SourceClip:
    """One clip and what is known of it.

    ``start`` is the time of its first frame on the motion's clock; ``clean`` says that no fault
    was put in; ``setting`` names what is told apart within the source (a camera's distance, say).
    """

    motion: FilmedSwing
    recording: SwingRecording
    start: float
    footage: Footage
    view: View
    clean: bool
    setting: str = ""

    @property
    def grade(self) -> str:
        """``club`` (seen, 60 frames a second or more), ``phone`` or ``other``."""
        if self.footage.club and self.footage.rate >= _GOOD_RATE:
            return "club"
        slow = self.footage.rate <= PHONE_RATE
        return "phone" if slow and self.footage.noise.level >= PHONE_NOISE else "other"


Source = Callable[[int, int], Iterator[SourceClip]]
"""The clips of one golfer, by seed and the golfer's number."""


def keyed(seed: int, number: int) -> Iterator[SourceClip]:
    """Two swings of one golfer of key positions, each from both sides."""
    rng = np.random.default_rng([seed, 7, number])
    player = random_player(rng)
    for _ in range(2):
        intent = random_intent(rng)
        company, amounts = random_amounts(rng, intent)
        motion = random_keyed_swing(rng, player, amounts, intent)
        for view in VIEWS:
            phone = rng.random() < _PHONE_SHARE
            footage = phone_footage(rng) if phone else random_footage(rng)
            recording, start = filmed(motion, view, footage, rng)
            yield SourceClip(motion, recording, start, footage, view, company == "clean")


def _simulated(split: str) -> Source:
    def source(seed: int, number: int) -> Iterator[SourceClip]:
        for clip in clips_of_golfer(seed, split, number):
            yield SourceClip(
                clip.motion, clip.recording, clip.start, clip.footage, clip.view, clip.clean
            )

    return source


SOURCES: Final[dict[str, Source]] = {
    "angles": _simulated("test"),
    "shifted": _simulated("shifted"),
    "keyed": keyed,
}
"""The project's own makes: curves of joint angles, the same with other habits, key positions."""
