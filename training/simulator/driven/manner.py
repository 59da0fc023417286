"""How one swing is made: its pace, what comes before it, a pause at the top and what follows."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from service.analysis.types import FloatArray, Intent

_SLOWER: Final = (2.0, 4.0)
"""Factor on the times of a rehearsal; as of the keyed golfer."""
_PAUSES: Final[float] = 0.10
_CREEPS: Final[float] = 0.4
"""Share of the swings that pause at the top, and of those in which the arm creeps on there."""


@dataclass(frozen=True)
class Manner:
    """How one swing is made, times in seconds.

    ``slower`` is a factor on all times of the swing; ``pause`` stillness at the top, in which the
    arm creeps on by ``creeps`` degrees; ``lead_in`` stillness before the takeaway and ``tail``
    after the finish, in which the arm comes back by ``drops`` and the elbow folds by ``folds``
    degrees, starting ``holds`` after the finish and taking ``relaxes``.
    """

    slower: float = 1.0
    pause: float = 0.0
    creeps: float = 0.0
    lead_in: float = 0.8
    tail: float = 0.8
    waggles: int = 0
    waggle: float = 14.0
    holds: float = 0.0
    relaxes: float = 1.0
    drops: float = 0.0
    folds: float = 0.0


def random_manner(rng: np.random.Generator, intent: Intent) -> Manner:
    """Any manner: most swings go straight through the top and hold their finish."""
    pauses = rng.random() < _PAUSES
    after = str(rng.choice(("holds", "recoils", "relaxes"), p=(0.55, 0.25, 0.20)))
    drops = {"holds": 0.0, "recoils": float(rng.uniform(5.0, 28.0))}
    return Manner(
        slower=float(rng.uniform(*_SLOWER)) if intent is Intent.REHEARSAL else 1.0,
        pause=float(rng.uniform(0.05, 0.25)) if pauses else 0.0,
        creeps=float(rng.uniform(1.0, 5.0)) if pauses and rng.random() < _CREEPS else 0.0,
        lead_in=float(rng.uniform(0.4, 1.3)),
        tail=float(rng.uniform(0.4, 1.2)),
        waggles=int(rng.choice([0, 0, 1, 2])),
        waggle=float(rng.uniform(6.0, 22.0)),
        holds=float(rng.uniform(0.0, 0.7)),
        relaxes=float(rng.uniform(0.7, 1.6)),
        drops=drops.get(after, float(rng.uniform(30.0, 90.0))),
        folds=float(rng.uniform(0.0, 25.0)) if after == "relaxes" else 0.0,
    )


@dataclass(frozen=True)
class AfterFinish:
    """What the player does once the swing has stopped.

    ``begins`` in seconds, ``takes`` seconds; ``drops`` are degrees by which the arm comes back
    (0 holds the finish), ``folds`` those by which the lead elbow bends on.
    """

    begins: float
    takes: float
    drops: float
    folds: float


@dataclass(frozen=True)
class Waggles:
    """So many waggles of the club before a swing, each so many seconds and degrees, the last one
    ending at ``until`` seconds."""

    count: int
    takes: float
    degrees: float
    until: float

    def at(self, times: FloatArray) -> FloatArray:
        """Degrees by which the wrists are set, at times, both of shape (n,)."""
        begin = self.until - self.count * self.takes
        on = (times > begin) & (times < self.until)
        return np.where(on, self.degrees * np.sin(np.pi * (times - begin) / self.takes) ** 2, 0.0)
