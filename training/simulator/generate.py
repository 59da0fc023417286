"""Random players and swings, as different as sound swings are."""

from __future__ import annotations

from dataclasses import fields
from typing import Final

import numpy as np

from service.analysis.types import Handedness, Intent
from training.simulator.amounts import FaultAmounts
from training.simulator.body.clubs import SETUPS
from training.simulator.body.segments import Sex
from training.simulator.golfer import Golfer, Style
from training.simulator.swing.motion import SwingMotion, swing_motion
from training.simulator.swing.tempo import Tempo

# Standard deviations about the usual style, cut off at two of them; common practice, and
# where real shots tell a shape, their spread.
_SPREAD: Final[dict[str, float]] = {
    "stance": 0.035,
    "bend": 4.0,
    "hang": 2.0,
    "ball": 0.006,
    "knee_flex": 8.0,
    "lead_knee_top": 8.0,
    "trail_knee_top": 5.0,
    "side_tilt": 2.0,
    "lead_foot_flare": 6.0,
    "trail_foot_flare": 5.0,
    "pelvis_turn_top": 4.0,
    "chest_turn_top": 5.0,
    "pelvis_open_impact": 4.0,
    "chest_open_impact": 6.5,
    "side_tilt_impact": 3.5,
    "shift_impact": 0.012,
    "hands_ahead_impact": 0.012,
    "hands_rise_impact": 0.005,
    "arm_swing_top": 4.0,
    "wrist_set_top": 5.0,
    "lead_arm_reach": 0.06,
    "arm_plane_top": 2.5,
    "shaft_plane": 1.5,
    "head_turn_top": 5.0,
    "arm_heading_down": 7.0,
    "trail_elbow_out": 0.9,
    "finish": 0.08,
    "bend_finish": 7.0,
}
_STATURES: Final = ((1.78, 0.07, Sex.MALE), (1.65, 0.06, Sex.FEMALE), (1.45, 0.10, Sex.MALE))
_STATURE_SHARES: Final = (0.55, 0.30, 0.15)


def random_style(rng: np.random.Generator) -> Style:
    """Style of a sound swing."""
    usual = Style()
    return Style(
        **{
            field.name: getattr(usual, field.name) + _SPREAD[field.name] * _normal(rng)
            for field in fields(Style)
        }
    )


def random_golfer(rng: np.random.Generator) -> Golfer:
    """Player: man, woman or junior, any club, one in ten left-handed."""
    mean, spread, sex = _STATURES[rng.choice(len(_STATURES), p=_STATURE_SHARES)]
    clubs = tuple(SETUPS)
    return Golfer(
        stature=mean + spread * _normal(rng),
        sex=sex,
        club=clubs[rng.integers(len(clubs))],
        handedness=Handedness.LEFT if rng.random() < 0.1 else Handedness.RIGHT,
        style=random_style(rng),
    )


def random_tempo(rng: np.random.Generator, intent: Intent) -> Tempo:
    """Sound tempo: about 3 to 1 at full speed; rehearsals 2 to 4 times slower, 1.5 to 2.5 to 1."""
    down = 0.25 + 0.02 * _normal(rng)
    ratio = 3.0 + 0.22 * _normal(rng)
    if intent is Intent.REHEARSAL:
        down *= rng.uniform(2.0, 4.0)
        ratio = rng.uniform(1.5, 2.5)
    return Tempo(backswing=ratio * down, downswing=down, through=down * rng.uniform(1.7, 2.4))


def random_swing(
    rng: np.random.Generator,
    golfer: Golfer | None = None,
    amounts: FaultAmounts | None = None,
    intent: Intent = Intent.FULL_SPEED,
    length: float | None = None,
) -> SwingMotion:
    """Swing with the given faults (none by default) of a given or random player.

    What is no fault varies: tempo, a pause, waggles, a forward press, the waiting
    before and after. ``length`` is near a full swing unless given.
    """
    pause = rng.uniform(0.05, 0.3) if rng.random() < 0.15 else 0.0
    return swing_motion(
        golfer if golfer is not None else random_golfer(rng),
        amounts,
        random_tempo(rng, intent),
        intent,
        length=length if length is not None else float(rng.uniform(0.95, 1.02)),
        pause_at_top=pause,
        waggles=int(rng.choice([0, 0, 1, 2])),
        lead_in=float(rng.uniform(0.3, 1.2)),
        tail=float(rng.uniform(0.3, 1.2)),
        forward_press=bool(rng.random() < 0.2),
    )


def _normal(rng: np.random.Generator) -> float:
    return float(np.clip(rng.standard_normal(), -2.0, 2.0))
