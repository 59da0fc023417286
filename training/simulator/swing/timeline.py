"""When every key pose is reached: waiting, waggles, practice swings, the swing, the finish."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

import numpy as np

from service.analysis.types import FloatArray
from training.simulator.swing.curves import curve
from training.simulator.swing.keys import N_CHANNELS, Channel
from training.simulator.swing.tempo import Tempo

# Shares of backswing, downswing and follow-through at which the positions between come.
_BACK: Final = (0.0, 0.40, 0.65, 1.0)
_DOWN: Final = (0.60, 0.82, 1.0)
_THROUGH: Final = (0.105, 0.25, 1.0)

# All judgement.
_WAGGLE_SECONDS: Final[float] = 0.35
_PRESS_SECONDS: Final[float] = 0.25
"""To go away, and as long to come back."""
_WAGGLE_SET: Final[float] = -22.0
_WAGGLE_CLOCK: Final[float] = -4.0
_PRESS_CLOCK: Final[float] = 2.5
"""Degrees by which wrists and arms move meanwhile."""
_RETURN_SECONDS: Final[float] = 1.4
"""From the finish back to address."""
_REST_SECONDS: Final[float] = 0.8
"""Rest at address before the next swing."""

# The body unwinds from the ground up: how much sooner (in downswings) than the arms
# each group of channels turns back at the top; the wrists set on for a little.
_LOWER: Final = slice(Channel.PELVIS_X, Channel.TRAIL_HEEL_LIFT + 1)
_TRUNK: Final = slice(Channel.CHEST_TURN, Channel.HEAD_PITCH + 1)
_ARMS: Final = slice(Channel.ARM_CLOCK, Channel.TRAIL_POLE_Z + 1)
_CLUB: Final = slice(Channel.WRIST_SET, N_CHANNELS)
_TURNS_BACK: Final = ((_LOWER, -0.28), (_TRUNK, -0.14), (_ARMS, 0.0), (_CLUB, 0.14))


@dataclass
class Timeline:
    """Key poses in time, appended one after another.

    ``top_shift`` is, for poses at the top, the duration of the downswing that follows
    them, by which the groups of channels are staggered; 0 elsewhere.
    """

    times: list[float] = field(default_factory=list)
    poses: list[FloatArray] = field(default_factory=list)
    rests: list[bool] = field(default_factory=list)
    top_shift: list[float] = field(default_factory=list)

    @property
    def end(self) -> float:
        """Time of the last key pose, seconds."""
        return self.times[-1]

    def begin(self, pose: FloatArray) -> None:
        """Start at time 0, at rest in a pose of shape (N_CHANNELS,)."""
        self._append(0.0, pose)

    def hold(self, seconds: float) -> None:
        """Stay in the last pose."""
        if seconds > 0:
            self._append(self.end + seconds, self.poses[-1])

    def waggle(self, times: int) -> None:
        """Move the club back and forth a few times, the hands nearly still."""
        still = self.poses[-1]
        away = still.copy()
        away[Channel.WRIST_SET] += _WAGGLE_SET
        away[Channel.ARM_CLOCK] += _WAGGLE_CLOCK
        for _ in range(times):
            self._append(self.end + _WAGGLE_SECONDS, away)
            self._append(self.end + _WAGGLE_SECONDS, still)

    def press(self) -> None:
        """Press the hands forward and let them come back, as a trigger for the takeaway."""
        still = self.poses[-1]
        forward = still.copy()
        forward[Channel.ARM_CLOCK] += _PRESS_CLOCK
        forward[Channel.WRIST_SET] -= _PRESS_CLOCK
        self._append(self.end + _PRESS_SECONDS, forward)
        self._append(self.end + _PRESS_SECONDS, still)

    def swing(self, table: FloatArray, tempo: Tempo, pause_at_top: float) -> None:
        """Go through the key poses of a table of shape (N_CHANNELS, 10), from P1 to rest at P10."""
        start = self.end
        top = start + tempo.backswing
        for column in (1, 2):
            self._append(start + _BACK[column] * tempo.backswing, table[:, column], rest=False)
        self._append(top, table[:, 3], top_shift=tempo.downswing)
        if pause_at_top > 0:
            top += pause_at_top
            self._append(top, table[:, 3], top_shift=tempo.downswing)
        for column, share in zip((4, 5, 6), _DOWN, strict=True):
            self._append(top + share * tempo.downswing, table[:, column], rest=False)
        impact = self.end
        for column, share in zip((7, 8, 9), _THROUGH, strict=True):
            self._append(impact + share * tempo.through, table[:, column], rest=column == 9)

    def step_back(self, pose: FloatArray) -> None:
        """Come back from the finish to address."""
        self._append(self.end + _RETURN_SECONDS, pose)
        self.hold(_REST_SECONDS)

    def channels(self, times: FloatArray) -> FloatArray:
        """Channels at times in seconds, shape (N_CHANNELS, n); before and after, at rest."""
        own = np.array(self.times)
        poses, rests, shift = np.array(self.poses), np.array(self.rests), np.array(self.top_shift)
        clipped = np.clip(times, 0.0, self.end)
        values = np.empty((N_CHANNELS, times.size))
        for group, sooner in _TURNS_BACK:
            values[group] = curve(own + sooner * shift, poses[:, group], rests)(clipped).T
        return values

    def _append(
        self, time: float, pose: FloatArray, *, rest: bool = True, top_shift: float = 0.0
    ) -> None:
        self.times.append(time)
        self.poses.append(pose)
        self.rests.append(rest)
        self.top_shift.append(top_shift)
