"""What of a swing a report on its footage goes by."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from service.analysis.events.orientation import Orientation
from service.analysis.pose.conditioning import Conditioned
from service.analysis.types import BoolArray, FloatArray, Intent, Position


@dataclass(frozen=True)
class SwingFootage:
    """A swing whose footage is reported on.

    Attributes
    ----------
    points : array of shape (n_frames, n_points, 2)
        Canonical, body heights.
    observed : boolean array of shape (n_frames, n_points)
        Canonical; where a point was measured.
    conditioned : Conditioned
        Of the whole clip: its frame rate, and what was repaired.
    positions : tuple of 10 Position
    sent : array of shape (n_frames, n_points, 2)
        As they came, in their own unit.
    times : array of shape (n_frames,)
        Seconds from the first frame.
    """

    points: FloatArray
    observed: BoolArray
    conditioned: Conditioned
    positions: tuple[Position, ...]
    orientation: Orientation
    intent: Intent
    sent: FloatArray
    times: FloatArray

    @cached_property
    def frames(self) -> slice:
        """From the first position told to the last; to the clip's end on a side where the swing
        reaches farther and it can't be told how far."""
        found = [p.frame for p in self.positions if p.frame is not None]
        first = 0 if self.positions[0].in_doubt else int(found[0])
        n_frames = len(self.points)
        held = self.positions[-1].in_doubt
        return slice(first, n_frames if held else min(int(np.ceil(found[-1])) + 1, n_frames))

    @property
    def from_address(self) -> bool:
        """Whether P1 is told."""
        return self.positions[0].time is not None

    @property
    def past_impact(self) -> bool:
        """Whether a position after P7 is told."""
        return any(p.frame is not None for p in self.positions[7:])

    @cached_property
    def impact(self) -> int | None:
        """The frame of P7 among those."""
        return self._frame_of(7)

    @cached_property
    def moments(self) -> tuple[int, int, int]:
        """The frames of P3, P4 and P7 among those; the first for one that is not told."""
        level, top, impact = (self._frame_of(number) or 0 for number in (3, 4, 7))
        return level, top, impact

    @property
    def stances(self) -> list[int]:
        """The first frame and those of P3, P4, P6 and P7, as far as they are told."""
        told = (self.positions[number - 1].frame for number in (3, 4, 6, 7))
        return [self.frames.start, *(round(frame) for frame in told if frame is not None)]

    def _frame_of(self, number: int) -> int | None:
        at = self.positions[number - 1].frame
        return None if at is None else round(at) - self.frames.start
