"""The same bodies moved by other clocks: how a swing starts, unfolds and stops is drawn anew.

The home generator runs all its channels through the key poses by one kind of curve, so that the
first centimetres of every takeaway, the order in which arm and club reach each position and the
last centimetres before the finish are its habit and not a player's. Here legs, trunk, arms and club
each get a clock of their own in the takeaway and before the finish, and the key poses on the way
are moved: a takeaway of the wrists or in one piece, a club released early or late. Impact stays
where the club meets the ball.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

import numpy as np

from service.analysis.types import FloatArray, Intent
from training.simulator import FaultAmounts, Golfer, SwingMotion
from training.simulator.swing.curves import curve
from training.simulator.swing.keys import N_CHANNELS, Channel
from training.simulator.swing.motion import swing_table
from training.simulator.swing.tempo import Tempo
from training.simulator.swing.timeline import Timeline

_GROUPS: Final[tuple[slice, ...]] = (
    slice(Channel.PELVIS_X, Channel.TRAIL_HEEL_LIFT + 1),
    slice(Channel.CHEST_TURN, Channel.HEAD_PITCH + 1),
    slice(Channel.ARM_CLOCK, Channel.TRAIL_POLE_Z + 1),
    slice(Channel.WRIST_SET, N_CHANNELS),
)
"""Legs and pelvis, trunk and head, arms, club."""
_LEADS: Final[FloatArray] = np.array([-0.28, -0.14, 0.0, 0.14])
"""By how many downswings each group turns back before the arms; as in the home generator."""
_START_POWERS: Final[tuple[float, float]] = (0.75, 1.5)
"""Powers of the clock in the first half of the backswing: below 1 abrupt, above 1 creeping."""
_TURN_POWERS: Final[tuple[float, float]] = (0.85, 1.5)
"""The same in the second half of the backswing: above 1 the top is crept up to."""
_STOP_POWERS: Final[tuple[float, float]] = (0.75, 1.6)
"""The same before the finish."""
_MOST_LAG: Final[float] = 0.08
"""Share of the backswing by which a group may start after the first one."""
_MOVED: Final[dict[int, float]] = {1: 0.13, 2: 0.10, 4: 0.10, 5: 0.10, 7: 0.10, 8: 0.10}
"""Spread of how far the way through a part has been covered at P2, P3, P5, P6, P8, P9."""
_PARTS: Final[dict[int, tuple[int, int]]] = {
    1: (0, 3), 2: (0, 3), 4: (3, 6), 5: (3, 6), 7: (6, 9), 8: (6, 9)
}  # fmt: skip


@dataclass
class RetimedTimeline(Timeline):
    """A timeline whose groups of channels run by clocks of their own.

    ``start``, ``top``, ``through`` and ``finish`` are seconds: where the swing begins, where the
    arms reach the top, where the follow-through is half over and where it ends. ``lags`` are
    shares of the backswing, ``starts``, ``turns`` and ``stops`` powers, each of shape (n_groups,).
    """

    start: float = 0.0
    top: float = 0.0
    through: float = 0.0
    finish: float = 0.0
    lags: FloatArray = field(default_factory=lambda: np.zeros(len(_GROUPS)))
    starts: FloatArray = field(default_factory=lambda: np.ones(len(_GROUPS)))
    turns: FloatArray = field(default_factory=lambda: np.ones(len(_GROUPS)))
    stops: FloatArray = field(default_factory=lambda: np.ones(len(_GROUPS)))

    def channels(self, times: FloatArray) -> FloatArray:
        """Channels at times in seconds, shape (N_CHANNELS, n)."""
        own, poses = np.array(self.times), np.array(self.poses)
        rests, shift = np.array(self.rests), np.array(self.top_shift)
        clipped = np.clip(times, 0.0, self.end)
        values = np.empty((N_CHANNELS, times.size))
        for k, group in enumerate(_GROUPS):
            path = curve(own + _LEADS[k] * shift, poses[:, group], rests)
            values[group] = path(self._clock(clipped, k)).T
        return values

    def _clock(self, times: FloatArray, group: int) -> FloatArray:
        """Time on the clock of one group, shape (n,)."""
        begun = self.start + self.lags[group] * (self.top - self.start)
        share = np.clip((times - begun) / (self.top - begun), 0.0, 1.0)
        way = 1.0 - _bent(1.0 - _bent(share, self.starts[group]), self.turns[group])
        back = self.start + (self.top - self.start) * way
        left = np.clip((self.finish - times) / (self.finish - self.through), 0.0, 1.0)
        end = self.finish - (self.finish - self.through) * _bent(left, self.stops[group])
        in_back = (times > self.start) & (times < self.top)
        in_end = (times > self.through) & (times < self.finish)
        return np.where(in_back, back, np.where(in_end, end, times))


def _bent(share: FloatArray, power: float) -> FloatArray:
    """A clock from 0 to 1 that starts by a power and ends as any other clock.

    >>> [float(x) for x in _bent(np.array([0.0, 1.0]), 2.0)]
    [0.0, 1.0]
    """
    late = share * share * (3.0 - 2.0 * share)
    return np.asarray((1.0 - late) * share**power + late * share)


def retimed_swing(
    rng: np.random.Generator, golfer: Golfer, amounts: FaultAmounts, intent: Intent, length: float
) -> SwingMotion:
    """A swing of the home generator's bodies and faults by other clocks and through other ways."""
    tempo = _tempo(rng, intent).hurried(amounts.hurried_transition)
    table = swing_table(golfer, amounts, length)
    _move(rng, table)
    line = RetimedTimeline(
        lags=_lags(rng),
        starts=_powers(rng, _START_POWERS),
        turns=_powers(rng, _TURN_POWERS),
        stops=_powers(rng, _STOP_POWERS),
    )
    line.begin(table[:, 0])
    line.hold(float(rng.uniform(0.3, 1.5)))
    line.waggle(int(rng.choice([0, 0, 1, 2])))
    if rng.random() < 0.2:
        line.press()
    line.start = line.end
    line.top = line.start + tempo.backswing
    pause = float(rng.uniform(0.03, 0.3)) if rng.random() < 0.2 else 0.0
    line.swing(table, tempo, pause)
    line.through, line.finish = line.end - 0.6 * tempo.through, line.end
    line.hold(float(rng.uniform(0.3, 1.5)))
    return SwingMotion(golfer, amounts, tempo, intent, length, line.start, line)


def _tempo(rng: np.random.Generator, intent: Intent) -> Tempo:
    down, ratio = float(rng.uniform(0.21, 0.34)), float(rng.uniform(2.3, 3.8))
    if intent is Intent.REHEARSAL:
        down, ratio = down * float(rng.uniform(1.8, 4.0)), float(rng.uniform(1.4, 3.0))
    return Tempo(ratio * down, down, down * float(rng.uniform(1.5, 2.8)))


def _move(rng: np.random.Generator, table: FloatArray) -> None:
    """Move the key poses on the way from address to top, impact and finish, in place."""
    for group in _GROUPS:
        for column, (begin, end) in _PARTS.items():
            moved = _MOVED[column] * float(np.clip(rng.standard_normal(), -2.0, 2.0))
            table[group, column] += moved * (table[group, end] - table[group, begin])


def _lags(rng: np.random.Generator) -> FloatArray:
    lags = np.clip(rng.exponential(0.3, len(_GROUPS)), 0.0, 1.0) * _MOST_LAG
    return np.asarray(lags - lags.min())


def _powers(rng: np.random.Generator, within: tuple[float, float]) -> FloatArray:
    """One power for the player, and a little of each group's own."""
    low, high = np.log(within)
    own = rng.uniform(low, high) + 0.08 * rng.standard_normal(len(_GROUPS))
    return np.asarray(np.exp(np.clip(own, low, high)))
