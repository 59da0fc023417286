"""A second, deliberately different generator: what the models were not made on.

Other proportions of the body, other tempo, other ways in which the faults come about in the
body, and an estimator that errs more: further off each joint all through the clip, and now
and then wildly.
"""

from __future__ import annotations

from dataclasses import astuple, dataclass, fields, replace
from typing import Final

import numpy as np

from service.analysis.types import FloatArray, Intent, SwingRecording
from training.data.draws import Footage
from training.simulator import FaultAmounts, Golfer, SwingMotion, Tempo, random_golfer
from training.simulator.body.segments import Body
from training.simulator.filming.estimating.estimator import SIGMA
from training.simulator.swing.contact import set_contact
from training.simulator.swing.faults import HANDLE_RISE, put_in_faults
from training.simulator.swing.keys import Channel, key_poses
from training.simulator.swing.timeline import Timeline

_SPREAD: Final[float] = 0.05
"""Relative spread of every segment about the table of the usual generator."""
_SEGMENTS: Final[tuple[str, ...]] = (
    "upper_arm",
    "forearm",
    "thigh",
    "shank",
    "foot",
    "shoulders",
    "hips",
    "lower_spine",
    "upper_spine",
)
_LESS: Final[float] = 0.8
"""Factor by which amounts are lessened until a body can show them."""
_P2, _P3, _P4, _P5, _P6, _P7, _P8, _P9, _P10 = range(1, 10)
# Faults put in otherwise than usual, by channel and position, for an amount of 1.
_OTHER_WAYS: Final[dict[str, dict[Channel, dict[int, float]]]] = {
    "shaft_steep_at_top": {
        Channel.SHAFT_PLANE: {_P4: 30.0, _P5: 32.0, _P6: 16.0},
        Channel.ARM_PLANE: {_P5: 4.0},
    },
    "trail_heel_kick": {
        Channel.TRAIL_HEEL_LIFT: {_P5: 14.0, _P6: 26.0, _P7: 20.0, _P8: 18.0},
        Channel.TRAIL_FOOT_SPIN: {_P5: 10.0, _P6: 26.0, _P7: 28.0, _P8: 24.0},
        Channel.TRAIL_KNEE_FLEX: {_P6: 5.0, _P7: 6.0},
    },
    "lead_wrist_cup": {
        Channel.WRIST_SET: {_P8: 58.0, _P9: 36.0},
        Channel.ARM_CLOCK: {_P8: -10.0},
    },
    "trail_shoulder_drop": {
        Channel.CHEST_SIDE: {_P5: 3.0, _P6: 24.0, _P7: 18.0, _P8: 6.0},
        Channel.PELVIS_X: {_P6: 0.012, _P7: 0.012},
    },
    "trail_knee_drive": {
        Channel.TRAIL_KNEE_OUT: {_P5: -6.0, _P6: -18.0, _P7: -10.0},
        Channel.TRAIL_KNEE_FLEX: {_P5: 6.0, _P6: 14.0, _P7: 6.0},
        Channel.PELVIS_Z: {_P6: 0.028, _P7: 0.018},
    },
    "upper_body_drift": {
        Channel.CHEST_SIDE: {_P2: 2.0, _P3: 6.0, _P4: 8.0, _P5: 4.0},
        Channel.PELVIS_X: {_P2: -0.014, _P3: -0.028, _P4: -0.034, _P5: -0.014},
    },
    "long_backswing": {
        Channel.ARM_CLOCK: {_P4: -36.0, _P5: -4.0},
        Channel.WRIST_SET: {_P4: -8.0},
    },
    "trunk_straightens": {
        Channel.CHEST_BEND: {_P6: -10.0, _P8: -12.0},
        Channel.PELVIS_BEND: {_P6: -6.0, _P8: -4.0},
        Channel.PELVIS_Z: {_P5: 0.006, _P6: 0.016, _P7: 0.024, _P8: 0.018},
        Channel.LEAD_KNEE_FLEX: {_P5: 4.0, _P6: 14.0, _P7: 32.0, _P8: 20.0},
        Channel.TRAIL_KNEE_FLEX: {_P6: 8.0, _P7: 18.0, _P8: 10.0},
        Channel.CHEST_TURN: {_P7: -10.0},
    },
    "hips_toward_ball": {
        Channel.PELVIS_Z: {_P4: 0.006, _P5: 0.026, _P6: 0.046, _P7: 0.044, _P8: 0.040, _P9: 0.02},
        Channel.TRAIL_KNEE_FLEX: {_P6: 4.0, _P7: 4.0},
    },
    "hips_past_lead_foot": {
        Channel.PELVIS_X: {_P5: 0.040, _P6: 0.074, _P7: 0.078, _P8: 0.070, _P9: 0.03},
        Channel.PELVIS_TURN: {_P6: -4.0, _P7: -8.0},
        Channel.TRAIL_HEEL_LIFT: {_P6: 6.0, _P7: 10.0, _P8: 10.0},
    },
    "wrists_open_early": {
        Channel.WRIST_SET: {_P4: 6.0, _P5: 44.0, _P6: 16.0},
        Channel.ARM_HEADING: {_P5: -3.0},
    },
}


@dataclass(frozen=True)
class _OtherBuild(Golfer):
    """A golfer whose segments differ from the table by factors of their own."""

    factors: tuple[float, ...] = (1.0,) * len(_SEGMENTS)

    @property
    def body(self) -> Body:
        """Segment lengths."""
        usual = super().body
        changed = {
            name: getattr(usual, name) * f for name, f in zip(_SEGMENTS, self.factors, strict=True)
        }
        return replace(usual, **changed)


def random_other_golfer(rng: np.random.Generator) -> Golfer:
    """A player of other proportions who can stand to the ball with the club."""
    while True:
        golfer = random_golfer(rng)
        own = {f.name: getattr(golfer, f.name) for f in fields(Golfer)}
        spread = np.clip(rng.standard_normal(len(_SEGMENTS)), -2.0, 2.0)
        other = _OtherBuild(**own, factors=tuple(1.0 + _SPREAD * spread))
        if _can_be(_table(other, FaultAmounts(), 1.0)):
            return other


def other_swing(
    rng: np.random.Generator, golfer: Golfer, amounts: FaultAmounts, intent: Intent, length: float
) -> SwingMotion:
    """A swing with faults that come about in other ways, in another tempo."""
    tempo = _tempo(rng, intent).hurried(amounts.hurried_transition)
    table = _table(golfer, amounts, length)
    while not _can_be(table):
        # This body can't get to the ball with so much of the faults.
        amounts = FaultAmounts(*(_LESS * amount for amount in astuple(amounts)))
        table = _table(golfer, amounts, length)
    timeline = Timeline()
    timeline.begin(table[:, 0])
    timeline.hold(float(rng.uniform(0.3, 1.5)))
    timeline.waggle(int(rng.integers(0, 3)))
    start = timeline.end
    timeline.swing(table, tempo, float(rng.uniform(0.0, 0.15)) if rng.random() < 0.3 else 0.0)
    timeline.hold(float(rng.uniform(0.3, 1.5)))
    return SwingMotion(golfer, amounts, tempo, intent, length, start, timeline)


def other_errors(
    recording: SwingRecording, footage: Footage, rng: np.random.Generator
) -> SwingRecording:
    """Add a further steady error of every joint and now and then a wild one, but where errors are
    a real estimator's already."""
    if footage.noise.measured > 0.0:
        return recording
    points = recording.points
    heights = points[..., 1][:, ~np.isnan(points[..., 1]).all(axis=0)]
    size = 0.45 * np.max(np.nanpercentile(heights, 95, axis=0)) - 0.45 * np.min(
        np.nanpercentile(heights, 5, axis=0)
    )
    spread = (footage.noise.level * size * SIGMA)[:, None]
    steady = 0.5 * spread * rng.standard_normal(points.shape[1:])
    wild = 0.4 * spread * rng.standard_t(3.0, points.shape)
    return replace(recording, points=points + steady + wild)


def _can_be(table: FloatArray) -> bool:
    return bool(np.isfinite(table).all())


def _tempo(rng: np.random.Generator, intent: Intent) -> Tempo:
    down = float(rng.uniform(0.22, 0.32))
    ratio = float(rng.uniform(2.6, 3.6))
    if intent is Intent.REHEARSAL:
        down, ratio = down * float(rng.uniform(1.8, 3.5)), float(rng.uniform(1.6, 2.8))
    return Tempo(ratio * down, down, down * float(rng.uniform(1.6, 2.6)))


def _table(golfer: Golfer, amounts: FaultAmounts, length: float) -> FloatArray:
    """Key poses; NaN where the body can't get the club to the ball."""
    table = key_poses(golfer, length)
    put_in_faults(table, replace(amounts, **dict.fromkeys(_OTHER_WAYS, 0.0)))
    for name, channels in _OTHER_WAYS.items():
        for channel, most in channels.items():
            for column, change in most.items():
                table[channel, column] += getattr(amounts, name) * change
    rise = HANDLE_RISE * golfer.stature * amounts.handle_rise
    with np.errstate(invalid="ignore"):
        set_contact(table, golfer, rise=rise, back=0.01 * golfer.stature * amounts.lead_wrist_cup)
    return table
