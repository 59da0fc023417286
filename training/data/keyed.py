"""Clips of the golfer of key positions, drawn apart from those that evaluation draws."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np

from training.data.dataset import SPLITS, VIEWS, Clip
from training.data.draws import filmed, phone_footage, random_amounts, random_footage, random_intent
from training.simulator.keyed import random_keyed_swing, random_player

_PHONE: Final[float] = 0.35
"""Share of clips of phone grade."""


def clips_of_keyed_golfer(seed: int, number: int) -> Iterator[Clip]:
    """Two swings of one golfer, each from both sides."""
    rng = np.random.default_rng([seed, len(SPLITS) + 1, number])
    player = random_player(rng)
    for _ in range(2):
        intent = random_intent(rng)
        co_occurrence, amounts = random_amounts(rng, intent)
        motion = random_keyed_swing(rng, player, amounts, intent)
        for view in VIEWS:
            footage = phone_footage(rng) if rng.random() < _PHONE else random_footage(rng)
            recording, start = filmed(motion, view, footage, rng)
            yield Clip(motion, recording, start, footage, view, co_occurrence == "clean")
