"""What each fault does to the key positions of a sound swing.

An amount of 1 brings a usual player somewhat past the catalogue's threshold, 1.7 far past it.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np

from service.analysis.types import FloatArray
from training.simulator.amounts import FaultAmounts
from training.simulator.keyed.keys import P2, P3, P4, P5, P6, P7, P8, P9, P10, Keys
from training.simulator.keyed.player import Player

HANDLE_RISE: Final[float] = 0.040
"""How much higher the hands come through impact, statures, for an amount of 1."""
HANDS_BACK: Final[float] = 0.016
"""How much less far ahead a cupping lead wrist has the hands at impact, statures."""
_MOST_PARTED: Final[float] = 1.4
"""Amount from which the arms shorten no further: the elbows are bent by some 85 degrees by then."""
_HURRY: Final[float] = 0.70
"""Factor on the ratio of backswing to downswing."""

# Style numbers moved by an amount of 1.
_STYLE: Final[dict[str, dict[str, float]]] = {
    "arms_lift_at_top": {"above_shoulders": 28.0, "arm_swing_top": 4.0},
    "shaft_steep_at_top": {"plane_top": 12.0, "plane_p5": 24.0, "arm_in_p5": -5.0},
    "long_backswing": {"arm_swing_top": 27.0, "hinge_top": 8.0},
    "wrists_open_early": {"hinge_p5": -34.0},
    "chest_stall": {"chest_p9": -30.0, "head_p9": -36.0, "chest_end": -16.0},
}


def styled(player: Player, amounts: FaultAmounts) -> Player:
    """The player with the style numbers of the faults."""
    style = dict(player.style)
    for fault, changes in _STYLE.items():
        for name, change in changes.items():
            style[name] += change * getattr(amounts, fault)
    style["tempo"] *= _HURRY**amounts.hurried_transition
    return replace(player, style=style)


def move_body(keys: Keys, amounts: FaultAmounts) -> None:
    """Move, in place, what of the body the faults move."""
    stop = min(amounts.arms_lift_at_top, 1.15)
    keys.chest_turn[P4] += 0.9 * stop * (keys.chest_turn[P3] - keys.chest_turn[P4])
    _add(keys.neck[:, 0], amounts.upper_body_drift, {P2: -0.018, P3: -0.04, P4: -0.048, P5: -0.02})
    _add(keys.pelvis[:, 0], amounts.upper_body_drift, {P2: -0.006, P3: -0.012, P4: -0.014})
    drop = amounts.trail_shoulder_drop
    _add(keys.neck[:, 0], drop, {P5: -0.02, P6: -0.062, P7: -0.056, P8: -0.02})
    _add(keys.pelvis[:, 0], drop, {P6: 0.012, P7: 0.016, P8: 0.008})
    drive = amounts.trail_knee_drive
    _add(keys.pelvis[:, 2], drive, {P5: 0.004, P6: 0.011, P7: 0.012, P8: 0.005})
    _add(keys.neck[:, 2], drive, {P5: 0.002, P6: 0.004, P7: 0.004})
    _add(keys.pelvis[:, 1], drive, {P5: -0.003, P6: -0.006, P7: -0.003})
    _add(keys.poles[:, 1, 0], drive, {P5: -0.15, P6: -0.4, P7: -0.3})
    _add(keys.feet[:, 2], drive, {P5: 2.0, P6: 6.0, P7: 5.0})
    up = amounts.trunk_straightens
    _add(keys.pelvis[:, 2], up, {P5: 0.003, P6: 0.012, P7: 0.020, P8: 0.016})
    _add(keys.pelvis[:, 1], up, {P5: -0.003, P6: -0.012, P7: -0.026, P8: -0.014})
    _add(keys.neck[:, 2], up, {P5: -0.008, P6: -0.030, P7: -0.065, P8: -0.035})
    _add(keys.neck[:, 1], up, {P5: 0.003, P6: 0.006, P7: 0.010, P8: 0.006})
    _add(keys.chest_turn, up, {P6: -5.0, P7: -14.0, P8: -8.0})
    near = amounts.hips_toward_ball
    _add(keys.pelvis[:, 2], near, {P5: 0.018, P6: 0.044, P7: 0.052, P8: 0.040, P9: 0.015})
    slide = amounts.hips_past_lead_foot
    _add(keys.pelvis[:, 0], slide, {P5: 0.022, P6: 0.064, P7: 0.080, P8: 0.070, P9: 0.03})
    _add(keys.neck[:, 0], slide, {P5: 0.01, P6: 0.028, P7: 0.032, P8: 0.03, P9: 0.02})
    _add(keys.feet[:, 2], slide, {P6: 4.0, P7: 9.0, P8: 8.0})
    kick = amounts.trail_heel_kick
    _add(keys.feet[:, 2], kick, {P5: 3.0, P6: 13.0, P7: 17.0, P8: 12.0})
    _add(keys.feet[:, 3], kick, {P5: 2.0, P6: 11.0, P7: 17.0, P8: 15.0, P9: 8.0})


def move_hands(keys: Keys, amounts: FaultAmounts) -> None:
    """Move, in place, what of the hands and elbows the faults move."""
    cup = amounts.lead_wrist_cup
    keys.arm[P8] += cup * 0.33 * np.array([-0.26, -0.06, 0.0])
    keys.arm[P9] += cup * 0.33 * np.array([-0.10, -0.22, 0.0])
    part = amounts.elbows_separate
    keys.arm[P8] *= 1.0 - 0.16 * min(part, _MOST_PARTED)
    keys.arm[P9] *= 1.0 - 0.14 * min(part, _MOST_PARTED)
    _add(keys.poles[:, 2, 0], part, {P7: 0.2, P8: 0.7, P9: 0.8})
    _add(keys.poles[:, 2, 1], part, {P8: 0.5, P9: 0.6})
    _add(keys.poles[:, 2, 2], part, {P7: 0.2, P8: 1.0, P9: 0.9})
    _add(keys.poles[:, 3, 0], part, {P7: -0.2, P8: -0.7, P9: -0.7})
    _add(keys.poles[:, 3, 2], part, {P8: -0.3, P9: -0.4, P10: 0.0})
    early = amounts.wrists_open_early
    keys.arm[P6] += early * 0.33 * np.array([-0.18, 0.16, -0.05])
    lift = amounts.arms_lift_at_top + 0.6 * amounts.long_backswing
    _add(keys.poles[:, 3, 0], lift, {P4: -0.6, P5: -0.2})


def _add(values: FloatArray, amount: float, most: dict[int, float]) -> None:
    for column, change in most.items():
        values[column] += amount * change
