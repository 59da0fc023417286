"""The trunk on the pelvis, shoulders that travel on it, and the head."""

from __future__ import annotations

from typing import Final

import numpy as np

from service.analysis.pose.points import Point
from service.analysis.types import FloatArray
from tests.reference.stranger.golfer.clock import Clock
from tests.reference.stranger.golfer.keys import Keys
from tests.reference.stranger.golfer.lower_body import sway
from tests.reference.stranger.golfer.player import Player
from tests.reference.stranger.vectors import across, turned, unit

_TO_TARGET: Final = np.array([1.0, 0.0, 0.0])
# How far each shoulder goes on the chest at P1 to P10, percent of stature: forward and up for the
# lead one, forward and down for the trail one. Judgements.
_LEAD_FORWARD: Final = np.array([1.4, 1.8, 2.3, 2.6, 2.0, 1.6, 1.4, 1.0, 0.5, 0.5])
_LEAD_UP: Final = np.array([0.5, 0.5, 0.5, 0.6, 0.4, 0.6, 0.9, 0.6, 0.5, 0.5])
_TRAIL_FORWARD: Final = np.array([1.6, 1.0, -0.2, -1.0, -0.6, 0.6, 2.0, 2.4, 2.4, 0.8])
_TRAIL_DOWN: Final = np.array([2.0, 1.2, 0.3, -0.3, 0.0, 1.2, 2.0, 1.8, 1.0, 0.0])
# The head, statures: its middle above the shoulders along spine and head and before them, half the
# width between the ears, and the nose before and below and the eyes before, beside and above the
# middle; from memory of the proportions of heads.
_ON_SPINE, _ON_HEAD, _BEFORE = 0.03, 0.085, 0.012
_EAR = 0.043
_NOSE_BEFORE, _NOSE_BELOW = 0.066, 0.012
_EYE_BEFORE, _EYE_BESIDE, _EYE_ABOVE = 0.052, 0.018, 0.012
_HEAD_SIDE: Final = 0.3
"""Share of the trunk's tilt to the side that the head takes part in; judgement."""
_NOD_MORE: Final = 10.0
"""Degrees by which the head bends more than the trunk at most; judgement."""


def bear(
    joints: FloatArray, player: Player, keys: Keys, clock: Clock, rng: np.random.Generator
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Place shoulders and head on joints of shape (n, N_POINTS, 3), statures, that have hips.

    Returns
    -------
    chest : array of shape (n, 3)
        Unit vectors from the trail to the lead side of the chest.
    forward : array of shape (n, 3)
        Unit vectors that the chest looks along.
    face : array of shape (n, 3)
        Unit vectors that the face looks along.
    """
    bend = np.radians(clock.trunk(keys.bend) - keys.bend[0] + player.tilt)
    tilt = np.radians(clock.trunk(keys.side))
    spine = unit(np.stack([-np.tan(tilt), np.ones_like(tilt), np.tan(bend)], axis=1))
    hips = 0.5 * (joints[:, Point.LEAD_HIP] + joints[:, Point.TRAIL_HIP])
    top = hips + player.trunk * spine + sway(clock, rng)
    chest = turned(across(_TO_TARGET, spine), spine, -clock.trunk(keys.chest_turn))
    forward = np.cross(chest, spine)

    def moved(forth: FloatArray, up: FloatArray) -> FloatArray:
        along, above = (0.01 * clock.trunk(v)[:, None] for v in (forth, up))
        return np.asarray(along * forward + above * spine)

    joints[:, Point.LEAD_SHOULDER] = top + player.shoulder * chest + moved(_LEAD_FORWARD, _LEAD_UP)
    joints[:, Point.TRAIL_SHOULDER] = (
        top - player.shoulder * chest + moved(_TRAIL_FORWARD, -_TRAIL_DOWN)
    )
    nod = np.tan(np.minimum(np.radians(player.nod), bend + np.radians(_NOD_MORE)))
    up = unit(np.stack([_HEAD_SIDE * spine[:, 0], np.ones_like(nod), nod], axis=1))
    side = turned(across(_TO_TARGET, up), up, -clock.trunk(keys.head_turn))
    face = np.cross(side, up)
    _head(joints, top + _ON_SPINE * spine, (side, up, face))
    return chest, forward, face


def _head(
    joints: FloatArray, neck: FloatArray, axes: tuple[FloatArray, FloatArray, FloatArray]
) -> None:
    side, up, face = axes
    middle = neck + _ON_HEAD * up + _BEFORE * face
    joints[:, Point.NOSE] = middle + _NOSE_BEFORE * face - _NOSE_BELOW * up
    for number, sign in ((0, 1.0), (1, -1.0)):
        joints[:, Point.LEAD_EAR + number] = middle + sign * _EAR * side
        joints[:, Point.LEAD_EYE + number] = (
            middle + _EYE_BEFORE * face + sign * _EYE_BESIDE * side + _EYE_ABOVE * up
        )
