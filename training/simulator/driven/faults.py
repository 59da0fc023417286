"""What each fault does to the style of a sound player, and to the geometry that follows from it.

An amount of 1 brings a usual player somewhat past the catalogue's threshold, 1.7 far past it.
"""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Final

from training.simulator.driven.player import Player
from training.simulator.swing.amounts import FaultAmounts

_HURRY: Final[float] = 0.66
"""Factor on the ratio of backswing to downswing."""

# Style numbers moved by an amount of 1.
_STYLE: Final[dict[str, dict[str, float]]] = {
    "arms_lift_at_top": {
        "arm_plane_top": -32.0, "inside_top": -7.0, "arm_top": 6.0, "chest_early": 0.42,
    },
    "shaft_steep_at_top": {"flat_down": -40.0, "tip_top": -8.0},
    "trail_heel_kick": {"heel_impact": 18.0, "spin_impact": 17.0},
    "elbows_separate": {"elbow_through": 25.0, "elbow_out": 1.9, "chest_end": -16.0},
    "lead_wrist_cup": {"cup": 55.0, "wrist_drag": -2.0, "hands_ahead": -0.024, "arm_end": 22.0},
    "trail_shoulder_drop": {"side_impact": 11.5, "tilt_impact": 4.5},
    "handle_rise": {"hands_rise": 0.034},
    "trail_knee_drive": {
        "knee_in": -40.0, "heel_impact": 7.0, "squat": -0.021, "to_ball": 0.012,
    },
    "upper_body_drift": {"side_top": 8.0, "sway": -0.016},
    "long_backswing": {"arm_top": 24.0, "hinge_top": 7.0},
    "chest_stall": {"chest_end": -40.0, "head_end": -42.0, "head_takes": 0.5},
    "trunk_straightens": {"bend_lost": 10.5, "to_ball": 0.006},
    "hips_toward_ball": {"to_ball": 0.044},
    "hips_past_lead_foot": {"shift": 0.078, "side_impact": 2.0},
    "wrists_open_early": {"wrist_drag": 4.2, "wrist_throw": 4.6},
}  # fmt: skip


def styled(player: Player, amounts: FaultAmounts) -> Player:
    """The player with the style numbers of the faults."""
    style = dict(player.style)
    for fault in fields(FaultAmounts):
        for name, change in _STYLE.get(fault.name, {}).items():
            style[name] += change * getattr(amounts, fault.name)
    style["tempo"] *= _HURRY**amounts.hurried_transition
    return replace(player, style=style)
