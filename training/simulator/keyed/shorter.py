"""A backswing that stops short of a full one, and a way through that goes no farther."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Final

import numpy as np

from training.simulator.keyed.player import Player

_FULL: Final[float] = 0.94
"""Lengths from here on leave the player's own full swing as it is."""
_LENGTHS: Final = (0.25, 0.5, 0.75, 1.0)
_SHARES: Final[Mapping[str, tuple[float, float, float, float]]] = MappingProxyType(
    {
        "arm_swing_top": (0.32, 0.67, 0.85, 1.0),
        "chest_turn_top": (0.33, 0.71, 0.91, 1.0),
        "pelvis_turn_top": (0.35, 0.75, 0.92, 1.0),
        "hinge_top": (0.25, 0.72, 0.92, 1.0),
        "hinge_p3": (0.40, 0.72, 0.92, 1.0),
        "hinge_p5": (0.25, 0.72, 0.92, 1.0),
        **dict.fromkeys(
            ("sway", "neck_shift_top", "lead_heel_top", "head_turn_top"), (0.35, 0.75, 0.92, 1.0)
        ),
        **dict.fromkeys(("finish_wrap", "trail_heel_end"), (0.35, 0.65, 0.9, 1.0)),
        "at_p5": (0.62, 0.78, 0.92, 1.0),
        "at_p6": (0.55, 0.90, 0.97, 1.0),
    }
)
"""What is left of a number of the style in a chip, a half swing, three quarters and a full swing:
common practice, near the same of the bodies of joint angles."""
_BEYOND: Final[Mapping[str, str]] = MappingProxyType(
    {"pelvis_end": "pelvis_open", "chest_end": "chest_p9"}
)
"""Turns in the finish, and those that they go on from by that share."""
_GONE_ON: Final = (0.35, 0.65, 0.9, 1.0)
_TO_THE_TOP: Final[Mapping[str, tuple[float, float, float, float]]] = MappingProxyType(
    {"at_p2": (0.55, 0.86, 0.97, 1.0), "at_p3": (0.25, 0.45, 0.80, 1.0)}
)
"""The same of the time from shaft and arm being level to the top."""
_LATER: Final = ("at_p8", "at_p9")
"""When they are level after impact: as much later as the club comes slower, which in the same time
has less far to go."""


def shortened(player: Player, length: float) -> Player:
    """The player making a swing of a length: 1 for a full one, 0.5 for a half."""
    if length >= _FULL:
        return player
    style = dict(player.style)
    for name, shares in _SHARES.items():
        style[name] *= float(np.interp(length, _LENGTHS, shares))
    for name, shares in _TO_THE_TOP.items():
        style[name] = 1.0 - (1.0 - style[name]) * float(np.interp(length, _LENGTHS, shares))
    for name in _LATER:
        style[name] *= player["arm_swing_top"] / style["arm_swing_top"]
    on = float(np.interp(length, _LENGTHS, _GONE_ON))
    for name, before in _BEYOND.items():
        style[name] = style[before] + on * (style[name] - style[before])
    return replace(player, style=style)
