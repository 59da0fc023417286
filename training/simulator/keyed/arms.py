"""Two hands on one grip: where they are, and how far two arms let them go."""

from __future__ import annotations

from typing import Final

import numpy as np

from service.analysis.types import FloatArray
from training.simulator.keyed.player import Player
from training.simulator.keyed.vectors import soft_excess, unit

GRIP_HOLD: Final[float] = 0.038
"""From the butt of the club to the knuckles of the lead hand, statures; common practice."""
HANDS_APART: Final[float] = 0.042
"""Between the two hands along the grip, statures; common practice."""
_MOST_GLIDE: Final[float] = 0.035
"""How far a shoulder follows a hand that is far away, statures; from memory."""
_STRAIGHTEST: Final[float] = 0.998
"""How far an arm stretches, arm lengths; judgement."""
_SOFT: Final[float] = 0.004
"""Over how much that sets in, statures; judgement."""
_GLIDE_FROM: Final[float] = 0.965
_GLIDE_SOFT: Final[float] = 0.012
"""From where on a shoulder follows, and over how much that sets in, arm lengths; judgement."""
_ROUNDS: Final[int] = 4
"""Steps in which a wrist is brought within reach of both arms."""


def knuckles(wrist: FloatArray, arm: FloatArray, shaft: FloatArray, player: Player) -> FloatArray:
    """Knuckles of a hand that lies between the directions of arm and shaft, shapes (..., 3)."""
    return np.asarray(wrist + player["hand"] * unit(0.9 * arm + 0.7 * shaft))


def trail_hand(
    hand: FloatArray, trail: FloatArray, shaft: FloatArray, player: Player
) -> tuple[FloatArray, FloatArray]:
    """Wrist and knuckles of the trail hand below a lead hand, for a trail shoulder, (..., 3)."""
    other = hand + HANDS_APART * shaft
    return np.asarray(other - player["hand"] * unit(0.9 * unit(other - trail) + 0.7 * shaft)), other


def within_reach(
    lead: FloatArray, trail: FloatArray, wrist: FloatArray, shaft: FloatArray, player: Player
) -> FloatArray:
    """Lead wrist brought, gradually, to where both arms reach the grip, shapes (..., 3)."""
    for _ in range(_ROUNDS):
        wrist = wrist + _pull(lead, wrist, player)
        hand = knuckles(wrist, unit(wrist - lead), shaft, player)
        wrist = wrist + _pull(trail, trail_hand(hand, trail, shaft, player)[0], player)
    return wrist


def glided(root: FloatArray, end: FloatArray, player: Player) -> FloatArray:
    """Shoulder drawn a few centimetres toward a wrist that is far away, (..., 3)."""
    span = end - root
    length = np.linalg.norm(span, axis=-1, keepdims=True)
    beyond = soft_excess(length, _GLIDE_FROM * player.arm, _GLIDE_SOFT * player.arm)
    return np.asarray(root + _MOST_GLIDE * np.tanh(beyond / _MOST_GLIDE) * span / length)


def _pull(root: FloatArray, end: FloatArray, player: Player) -> FloatArray:
    span = end - root
    length = np.linalg.norm(span, axis=-1, keepdims=True)
    beyond = soft_excess(length, _STRAIGHTEST * player.arm + 0.8 * _MOST_GLIDE - _SOFT, _SOFT)
    return np.asarray(-beyond / length * span)
