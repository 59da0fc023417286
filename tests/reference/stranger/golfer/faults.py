"""What a fault changes of the key poses, by its amount: 0 is none, 1 clearly there.

How a body does it is a judgement; whether it is then there is told by the catalogue's words in
space (:mod:`tests.reference.stranger.truth`), not by the amount.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

import numpy as np

from tests.reference.stranger.golfer.keys import Keys

CHANGES: Final[Mapping[str, Mapping[str, Mapping[int, float]]]] = MappingProxyType(
    {
        "arms_lift_at_top": {
            "arm_lift": {4: 30},
            "arm_swing": {4: 14},
            "chest_turn": {3: 22},
            "side": {4: -2},
        },
        "shaft_steep_at_top": {"club_lift": {4: 16, 5: 50, 6: 12}, "arm_lift": {5: 6}},
        "trail_heel_kick": {
            "heel": {5: 9, 6: 14, 7: 14},
            "heel_out": {5: 8, 6: 14, 7: 16, 8: 10},
            "pelvis_z": {6: 0.006, 7: 0.006},
        },
        "elbows_separate": {
            "elbow_bend": {7: 14, 8: 40, 9: 15},
            "elbow_out": {7: 0.5, 8: 1, 9: 1},
            "trail_elbow_out": {7: 0.5, 8: 0.8, 9: 0.8},
        },
        "lead_wrist_cup": {"arm_swing": {8: 30, 9: 8}},
        "trail_shoulder_drop": {"side": {6: 15, 7: 21, 8: 12}},
        "handle_rise": {
            "arm_lift": {6: 3, 7: 13, 8: 5},
            "pelvis_y": {7: 0.01},
            "bend": {7: -2},
        },
        "trail_knee_drive": {
            "knee_out": {5: 0.5, 6: 0.6, 7: 0.4},
            "heel": {5: 4, 6: 7, 7: 5},
            "pelvis_y": {5: -0.016, 6: -0.022, 7: -0.01},
            "pelvis_z": {5: 0.006, 6: 0.01, 7: 0.01},
        },
        "upper_body_drift": {"pelvis_x": {3: -0.025, 4: -0.03}, "side": {2: 2, 3: 6, 4: 7}},
        "long_backswing": {
            "arm_swing": {4: 44},
            "elbow_bend": {4: 12},
            "club_swing": {4: 25},
            "arm_lift": {4: -2},
        },
        "hurried_transition": {},
        "chest_stall": {"pelvis_turn": {9: 12}},
        "trunk_straightens": {"bend": {5: -2, 6: -7, 7: -14, 8: -12, 9: -6}},
        "hips_toward_ball": {
            "pelvis_z": {5: 0.022, 6: 0.045, 7: 0.055, 8: 0.05},
            "bend": {7: -3},
        },
        "hips_past_lead_foot": {
            "pelvis_x": {5: 0.02, 6: 0.045, 7: 0.075, 8: 0.06, 9: 0.05},
            "side": {6: 4, 7: 4, 8: 4},
        },
        "wrists_open_early": {"club_swing": {5: -38, 6: -6}},
    }
)
"""Degrees and statures added at amount 1, by fault, key and number of the position."""
_STALLING: Final = 2.5
"""The chest's turn after impact is divided by 1 and so much a unit of the fault."""
_HURRIED: Final[tuple[float, float]] = (2.15, 0.45)
"""Time back over time down of a hurried swing, and by how much less a unit of the fault."""
_NARROWER: Final = 0.012
"""Statures by which each foot stands further in where the hips go past the lead one."""

AMOUNTS: Final = (0.5, 0.8, 1.1, 1.5)
"""Amounts that are put on, as often each; judgement."""


def put_on(keys: Keys, faults: Mapping[str, float]) -> None:
    """Change key poses by faults, amounts by name."""
    for fault, amount in faults.items():
        keys.add(CHANGES[fault], amount)
    stall = faults.get("chest_stall", 0.0)
    left = keys.chest_turn[7:9] - keys.chest_turn[6]
    keys.chest_turn[7:9] = keys.chest_turn[6] + left / (1.0 + _STALLING * stall)
    keys.head_turn[7:9] *= max(1.0 - stall, 0.0)


def tempo_with(ratio: float, faults: Mapping[str, float]) -> float:
    """Time back over time down, of so much without a fault."""
    hurry = faults.get("hurried_transition", 0.0)
    return min(ratio, _HURRIED[0] - _HURRIED[1] * hurry) if hurry > 0.0 else ratio


def narrower(faults: Mapping[str, float]) -> float:
    """Statures by which each foot stands further in."""
    return _NARROWER * faults.get("hips_past_lead_foot", 0.0)


def random_faults(rng: np.random.Generator) -> dict[str, float]:
    """None in three swings of ten, else one to three, each of one of four amounts."""
    if rng.random() < 0.3:
        return {}
    count = int(rng.choice([1, 2, 3], p=[0.5, 0.35, 0.15]))
    chosen = rng.choice(sorted(CHANGES), size=count, replace=False)
    return {str(fault): float(rng.choice(AMOUNTS)) for fault in chosen}
