"""The position coordinate over time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from service.analysis.types import FloatArray, Position


@dataclass(frozen=True)
class PhaseCurve:
    """The position coordinate as a function of time, straight between its knots.

    4.5 is halfway along the hands' path from P4 to P5. Measured along the path and not by
    time, it means the same in a slow rehearsal, at full speed and across a pause.

    Attributes
    ----------
    times, values : arrays of shape (n_knots,)
        Both increasing.
    """

    times: FloatArray
    values: FloatArray

    def at(self, times: FloatArray) -> FloatArray:
        """Coordinate at times of shape (n,), the same shape; NaN before the first and after the
        last position."""
        if self.times.size < 2:
            return np.full(len(times), np.nan)
        return np.interp(times, self.times, self.values, left=np.nan, right=np.nan)

    def when(self, coordinates: FloatArray) -> FloatArray:
        """Seconds at coordinates of shape (n,), the same shape; NaN where they were not found."""
        return np.interp(coordinates, self.values, self.times, left=np.nan, right=np.nan)


def phase_curve(times: FloatArray, path: FloatArray, positions: Sequence[Position]) -> PhaseCurve:
    """Run the position coordinate through the positions found.

    Parameters
    ----------
    times : array of shape (n_frames,)
    path : array of shape (n_frames, 2)
        Path of the hands.
    positions : P1 to P10
    """
    found = [(p.time, p.number) for p in positions if p.time is not None]
    moments, numbers = np.array(found, dtype=float).T
    within = times[times.searchsorted(moments[0]) : times.searchsorted(moments[-1], side="right")]
    stops = np.sort(np.concatenate([moments, within]))
    stops = stops[np.concatenate([[True], stops[1:] > stops[:-1]])]
    x, y = (np.interp(stops, times, path[:, k]) for k in (0, 1))
    way = np.hypot(x[1:] - x[:-1], y[1:] - y[:-1])
    way[np.isnan(way)] = 0.0
    # A little of the time keeps the coordinate running through a dead stop.
    travelled = np.zeros(len(stops))
    np.cumsum(way + 1e-3 * (stops[1:] - stops[:-1]), out=travelled[1:])
    marks = travelled[stops.searchsorted(moments)]
    return PhaseCurve(stops, np.interp(travelled, marks, numbers))
