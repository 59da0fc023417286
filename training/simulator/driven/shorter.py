"""A backswing that stops short of a full one, and a way through that goes no farther."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Final

import numpy as np

from training.simulator.driven.player import Player

_FULL: Final[float] = 0.94
"""Lengths from here on leave the player's own full swing as it is."""
_LENGTHS: Final = (0.25, 0.5, 0.75, 1.0)
_SHARES: Final[Mapping[str, tuple[float, float, float, float]]] = MappingProxyType(
    {
        "arm_top": (0.34, 0.66, 0.85, 1.0),
        "arm_end": (0.36, 0.66, 0.85, 1.0),
        "chest_top": (0.34, 0.68, 0.90, 1.0),
        "chest_end": (0.50, 0.74, 0.92, 1.0),
        "pelvis_end": (0.50, 0.74, 0.92, 1.0),
        "head_end": (0.55, 0.80, 0.95, 1.0),
        **dict.fromkeys(("chest_impact", "pelvis_impact"), (0.6, 0.85, 0.95, 1.0)),
        "hinge_top": (0.26, 0.68, 0.90, 1.0),
        **dict.fromkeys(("hinge_end", "elbow_end", "heel_end"), (0.35, 0.62, 0.88, 1.0)),
        **dict.fromkeys(
            ("pelvis_top", "sway", "head_top", "lead_heel_top", "inside_top", "lag_more"),
            (0.35, 0.72, 0.92, 1.0),
        ),
    }
)
"""What is left of a number of the style in a chip, a half swing, three quarters and a full swing:
common practice."""


def shortened(player: Player, length: float) -> Player:
    """The player making a swing of a length: 1 for a full one, 0.5 for a half."""
    if length >= _FULL:
        return player
    style = dict(player.style)
    for name, shares in _SHARES.items():
        style[name] *= float(np.interp(length, _LENGTHS, shares))
    return replace(player, style=style)
