"""What each fault does to the key poses of a sound swing."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from service.analysis.types import FloatArray
from training.simulator.amounts import FaultAmounts
from training.simulator.swing.keys import Channel

HANDLE_RISE: Final[float] = 0.042
"""Rise of the hands at impact above a sound one, statures, for an amount of 1."""

_MOST_PARTED: Final[float] = 1.2
"""Amount from which elbows part no further: the lead one is bent by some 85 degrees by then, 50 ms
after impact, and the trail arm is level 27 ms after the shaft. More than that no body shows."""

HANDS_BACK: Final[float] = 0.022
"""How much less far ahead a cupping lead wrist has the hands at impact, statures."""

_P2, _P3, _P4, _P5, _P6, _P7, _P8, _P9, _P10 = range(1, 10)

# With the hands overhead the trail elbow can't point down any more and goes outward.
_ELBOW_OUT: Final = {_P4: -1.0, _P5: -0.3}

Change = Callable[[FloatArray, float], None]


def put_in_faults(table: FloatArray, amounts: FaultAmounts) -> None:
    """Change a table of key poses, in place, by the amounts of the faults.

    What is not in the key poses is left to others: where the hands are at impact to
    :mod:`training.simulator.swing.contact`, ``hurried_transition`` to the tempo.
    """
    for name, change in _CHANGES.items():
        amount = getattr(amounts, name)
        if amount > 0:
            change(table, amount)


def _arms_lift_at_top(t: FloatArray, a: float) -> None:
    _toward(t, Channel.CHEST_TURN, _P4, t[Channel.CHEST_TURN, _P3], a)
    _add(t, Channel.ARM_PLANE, a, {_P4: 24.0, _P5: 6.0})
    _add(t, Channel.ARM_HEADING, a, {_P4: -5.0})
    _add(t, Channel.TRAIL_POLE_X, a, _ELBOW_OUT)


def _shaft_steep_at_top(t: FloatArray, a: float) -> None:
    _add(t, Channel.SHAFT_PLANE, a, {_P4: 22.0, _P5: 38.0, _P6: 10.0})
    _add(t, Channel.ARM_HEADING, a, {_P5: -8.0, _P6: -4.0})


def _trail_heel_kick(t: FloatArray, a: float) -> None:
    _add(t, Channel.TRAIL_HEEL_LIFT, a, {_P5: 6.0, _P6: 22.0, _P7: 24.0, _P8: 14.0, _P9: 4.0})
    _add(t, Channel.TRAIL_FOOT_SPIN, a, {_P5: 4.0, _P6: 20.0, _P7: 32.0, _P8: 28.0, _P9: 16.0})


def _elbows_separate(t: FloatArray, a: float) -> None:
    a = min(a, _MOST_PARTED)
    _add(t, Channel.ARM_REACH, a, {_P8: -0.19, _P9: -0.25})
    # The chest faces halfway to the target here: toward it is sideways and forward.
    _add(t, Channel.LEAD_POLE_X, a, {_P7: 0.5, _P8: 1.0, _P9: 0.8})
    _add(t, Channel.LEAD_POLE_Y, a, {_P8: 0.6, _P9: 0.5})
    _add(t, Channel.LEAD_POLE_Z, a, {_P7: 0.4, _P8: 1.4, _P9: 1.4})
    _add(t, Channel.TRAIL_POLE_X, a, {_P7: -0.3, _P8: -1.0, _P9: -1.0})
    _add(t, Channel.TRAIL_POLE_Y, a, {_P8: 0.2, _P9: 0.2})
    _add(t, Channel.TRAIL_POLE_Z, a, {_P7: -0.2, _P8: -0.6, _P9: -0.8})


def _lead_wrist_cup(t: FloatArray, a: float) -> None:
    _add(t, Channel.WRIST_SET, a, {_P8: 44.0, _P9: 24.0})
    _add(t, Channel.ARM_CLOCK, a, {_P8: -25.0, _P9: -16.0})


def _trail_shoulder_drop(t: FloatArray, a: float) -> None:
    _add(t, Channel.CHEST_SIDE, a, {_P5: 7.0, _P6: 20.0, _P7: 21.0, _P8: 10.0})


def _trail_knee_drive(t: FloatArray, a: float) -> None:
    _add(t, Channel.TRAIL_HEEL_LIFT, a, {_P6: 12.0, _P7: 8.0})
    _add(t, Channel.TRAIL_KNEE_OUT, a, {_P5: 4.0, _P6: -14.0, _P7: -12.0})
    _add(t, Channel.TRAIL_KNEE_FLEX, a, {_P6: 12.0, _P7: 8.0})
    _add(t, Channel.PELVIS_Z, a, {_P6: 0.022, _P7: 0.024, _P8: 0.012})


def _upper_body_drift(t: FloatArray, a: float) -> None:
    _add(t, Channel.CHEST_SIDE, a, {_P2: 4.0, _P3: 10.0, _P4: 13.0, _P5: 8.0})
    _add(t, Channel.PELVIS_X, a, {_P2: -0.006, _P3: -0.013, _P4: -0.016, _P5: -0.008})


def _long_backswing(t: FloatArray, a: float) -> None:
    _add(t, Channel.ARM_CLOCK, a, {_P4: -32.0})
    _add(t, Channel.ARM_PLANE, a, {_P4: 14.0})
    _add(t, Channel.WRIST_SET, a, {_P4: -16.0})
    _add(t, Channel.TRAIL_POLE_X, a, _ELBOW_OUT)


def _chest_stall(t: FloatArray, a: float) -> None:
    stalled = t[Channel.CHEST_TURN, _P7]
    for column, run_on, share in ((_P8, 3.0, 1.0), (_P9, 8.0, 1.0), (_P10, 30.0, 0.8)):
        _toward(t, Channel.CHEST_TURN, column, stalled + run_on, min(a * share, 1.2))
    for channel in (Channel.HEAD_TURN, Channel.HEAD_PITCH):
        down = t[channel, _P7]
        _toward(t, channel, _P8, down, min(a, 1.0))
        _toward(t, channel, _P9, down, min(a, 1.0))


def _trunk_straightens(t: FloatArray, a: float) -> None:
    # The hands go where the club meets the ball, so that at impact the trunk comes up only as far
    # as a pelvis that comes under it, bent knees and a chest less open leave it room to.
    _add(t, Channel.CHEST_BEND, a, {_P5: -2.0, _P6: -8.0, _P8: -8.0})
    _add(t, Channel.CHEST_TURN, a, {_P6: -6.0, _P7: -14.0, _P8: -8.0})
    _add(t, Channel.CHEST_SIDE, a, {_P7: -8.0, _P8: -4.0})
    _add(t, Channel.PELVIS_Z, a, {_P5: 0.003, _P6: 0.012, _P7: 0.018, _P8: 0.014})
    _add(t, Channel.LEAD_KNEE_FLEX, a, {_P6: 10.0, _P7: 27.0, _P8: 16.0})
    _add(t, Channel.TRAIL_KNEE_FLEX, a, {_P6: 6.0, _P7: 16.0, _P8: 8.0})


def _hips_toward_ball(t: FloatArray, a: float) -> None:
    _add(t, Channel.PELVIS_Z, a, {_P5: 0.016, _P6: 0.042, _P7: 0.048, _P8: 0.036, _P9: 0.014})


def _hips_past_lead_foot(t: FloatArray, a: float) -> None:
    _add(t, Channel.PELVIS_X, a, {_P5: 0.026, _P6: 0.062, _P7: 0.072, _P8: 0.064, _P9: 0.04})
    _add(t, Channel.CHEST_SIDE, a, {_P5: 2.0, _P6: 5.0, _P7: 6.0, _P8: 4.0})
    _add(t, Channel.TRAIL_HEEL_LIFT, a, {_P6: 4.0, _P7: 8.0, _P8: 8.0})


def _wrists_open_early(t: FloatArray, a: float) -> None:
    _add(t, Channel.WRIST_SET, a, {_P5: 38.0, _P6: 24.0})


_CHANGES: Final[dict[str, Change]] = {
    "arms_lift_at_top": _arms_lift_at_top,
    "shaft_steep_at_top": _shaft_steep_at_top,
    "trail_heel_kick": _trail_heel_kick,
    "elbows_separate": _elbows_separate,
    "lead_wrist_cup": _lead_wrist_cup,
    "trail_shoulder_drop": _trail_shoulder_drop,
    "trail_knee_drive": _trail_knee_drive,
    "upper_body_drift": _upper_body_drift,
    "long_backswing": _long_backswing,
    "chest_stall": _chest_stall,
    "trunk_straightens": _trunk_straightens,
    "hips_toward_ball": _hips_toward_ball,
    "hips_past_lead_foot": _hips_past_lead_foot,
    "wrists_open_early": _wrists_open_early,
}


def _add(t: FloatArray, channel: Channel, amount: float, most: dict[int, float]) -> None:
    for column, change in most.items():
        t[channel, column] += amount * change


def _toward(t: FloatArray, channel: Channel, column: int, value: float, share: float) -> None:
    t[channel, column] += share * (value - t[channel, column])
