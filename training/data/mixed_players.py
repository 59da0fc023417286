"""Players of any skill, as they come to be filmed: some sound, most with a fault or two."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, replace
from typing import Final

import numpy as np

from service.analysis.types import Club, Handedness
from training.simulator import FaultAmounts, SwingMotion, random_golfer, random_swing
from training.simulator.keyed import KeyedSwing, random_keyed_swing, random_player

CLUBS_OF_THE_SHOTS: Final = {
    Club.DRIVER: 0.65,
    Club.FAIRWAY_WOOD: 0.03,
    Club.LONG_IRON: 0.05,
    Club.MID_IRON: 0.19,
    Club.SHORT_IRON: 0.08,
}
"""How often the real shots were played with each club."""

_FAULT_CHANCE: Final = 0.25
"""How often a player has each fault, its amount being anything up to 1."""


def mixed_player(
    rng: np.random.Generator, clubs: Mapping[Club, float] | None = None
) -> SwingMotion:
    """Swing of a right-hander of any skill with any club, or one drawn by the shares given."""
    anyone = random_golfer(rng)
    player = replace(anyone, handedness=Handedness.RIGHT)
    if clubs:
        player = replace(player, club=_drawn(rng, clubs))
    return random_swing(rng, player, _mixed_faults(rng))


def mixed_keyed_player(
    rng: np.random.Generator, clubs: Mapping[Club, float] | None = None
) -> KeyedSwing:
    """The same of a golfer of key positions."""
    player = replace(random_player(rng), handedness=Handedness.RIGHT)
    if clubs:
        player = replace(player, club=_drawn(rng, clubs))
    return random_keyed_swing(rng, player, _mixed_faults(rng))


def _drawn(rng: np.random.Generator, clubs: Mapping[Club, float]) -> Club:
    return tuple(clubs)[rng.choice(len(clubs), p=tuple(clubs.values()))]


def _mixed_faults(rng: np.random.Generator) -> FaultAmounts:
    amounts = {
        fault.name: float(rng.uniform(0.0, 1.0))
        for fault in fields(FaultAmounts)
        if rng.random() < _FAULT_CHANCE
    }
    return FaultAmounts(**amounts)
