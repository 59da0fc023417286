"""The lead arm and the club as a double pendulum whose arm is driven.

The arm turns about its shoulder by a given angle in time. The club is hinged to it at the wrists,
which hold it until they let go; from then on it is thrown outward by the turning of the arm, and
the wrists drag on it in proportion to how fast it opens. Gravity is left out: at full speed it is
small beside the rest. The model of an arm and a club as two rods is that of T. Jorgensen, "On the
dynamics of the swing of a golf club", American Journal of Physics 38 (1970) 644, from memory; that
the arm's angle is given rather than its torque, and the drag, are ours.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.interpolate import CubicHermiteSpline

from service.analysis.types import FloatArray
from training.simulator.driven.courses.strokes import Clock, Stroke, step

_STEPS: Final = 120
"""Steps in which a downswing is integrated; finer ones change nothing that is seen."""
_TRIED: Final = 33
"""Moments tried at which the wrists let go, and the earliest and latest, downswings."""
_LETS_GO: Final = (0.05, 0.93)
_CLUB_REACH: Final = 0.82
"""Length of the simple pendulum that swings as a club does, in lengths of it; from memory."""
_LONGEST_STOP: Final = 0.35
"""Downswings in which the wrists stop folding after impact, at most and at least."""
_SHORTEST_STOP: Final = 0.03


@dataclass(frozen=True)
class Hinging:
    """The angle of the wrists over one swing, degrees; positive with the club behind the arm.

    Attributes
    ----------
    clock
        Moments of the swing.
    address, top, impact, stop, end
        Angles at address, at the top, at impact, where the wrists stop folding after it, and in
        the finish.
    sets
        Seconds between which the wrists are set.
    lag_more
        Degrees by which they are set further as the arm starts down.
    freed : spline over seconds, from letting go to impact
        Angle of the club that is let go.
    stops
        Seconds in which folding after impact dies down.
    """

    clock: Clock
    address: float
    top: float
    impact: float
    stop: float
    end: float
    sets: tuple[float, float]
    lag_more: float
    freed: CubicHermiteSpline
    stops: float

    def at(self, times: FloatArray) -> FloatArray:
        """Angles at times, both of shape (n,), degrees."""
        clock = self.clock
        begin, impact = float(self.freed.x[0]), clock.impact
        held = held_angle(self, times)
        free = self.freed(np.clip(times, begin, impact))
        after = np.maximum(times - impact, 0.0)
        folds = self.stop + (self.impact - self.stop) * np.exp(-after / self.stops)
        on = step(times, impact + 0.2 * clock.through, clock.finish)
        through = folds + (self.end - self.stop) * on
        return np.where(times < begin, held, np.where(times < impact, free, through))


@dataclass(frozen=True)
class Wrists:
    """How a player uses the wrists.

    Angles in degrees as in :class:`Hinging`; once they have let go the wrists slow the club's
    opening by ``drag`` times its rate, and open it themselves by ``throw``: per downswing, and
    radians per downswing squared.
    """

    address: float
    top: float
    impact: float
    stop: float
    end: float
    sets: tuple[float, float]
    lag_more: float
    drag: float
    throw: float


def held_angle(
    wrists: Wrists | Hinging, times: FloatArray, clock: Clock | None = None
) -> FloatArray:
    """Angle of wrists that hold the club, at times, both of shape (n,)."""
    if clock is None:
        assert isinstance(wrists, Hinging)
        clock = wrists.clock
    back = step(times, *wrists.sets)
    more = step(times, clock.leaves - 0.05 * clock.down, clock.leaves + 0.4 * clock.down)
    return wrists.address + (wrists.top - wrists.address) * back + wrists.lag_more * more


def hinging(arm: Stroke, clock: Clock, wrists: Wrists, lengths: float) -> Hinging:
    """Wrists that let go of the club when it then meets the ball.

    Parameters
    ----------
    lengths
        Length of the arm in lengths of the club.
    """
    share = np.linspace(0.0, 1.0, _STEPS + 1)
    times = clock.leaves + clock.down * share
    theta = np.radians(arm.at(times))
    speed = np.gradient(theta, share, edge_order=2)
    gain = np.gradient(speed, share, edge_order=2)
    held = np.radians(held_angle(wrists, times, clock))
    firsts = np.round(np.linspace(*_LETS_GO, _TRIED) * _STEPS).astype(int)
    ratio = lengths / _CLUB_REACH
    angles = np.stack([held] * _TRIED), np.zeros((_TRIED, _STEPS + 1))
    _throw(angles, firsts, speed, gain, ratio, wrists)
    reached = np.degrees(angles[0][:, -1])
    k = int(np.argmin(np.abs(reached - wrists.impact)))
    first = int(firsts[k])
    angle, rate = np.degrees(angles[0][k, first:]), np.degrees(angles[1][k, first:])
    # What one step more or less of holding leaves is taken up on the way.
    left = wrists.impact - angle[-1]
    way = np.linspace(0.0, 1.0, angle.size)
    angle = angle + left * way**2 * (3.0 - 2.0 * way)
    rate = rate + left * 6.0 * way * (1.0 - way) / max(1.0 - share[first], 1e-6)
    rate = rate / clock.down
    fold = (wrists.stop - wrists.impact) / min(float(rate[-1]), -1.0)
    stops = np.clip(fold, _SHORTEST_STOP * clock.down, _LONGEST_STOP * clock.down)
    freed = CubicHermiteSpline(times[first:], angle, rate)
    return Hinging(
        clock, wrists.address, wrists.top, wrists.impact, wrists.stop, wrists.end, wrists.sets,
        wrists.lag_more, freed, float(stops)
    )  # fmt: skip


def _throw(
    state: tuple[FloatArray, FloatArray],
    firsts: np.ndarray,
    speed: FloatArray,
    gain: FloatArray,
    ratio: float,
    wrists: Wrists,
) -> None:
    """Let go of clubs at steps of shape (n_tried,), in place.

    ``state`` are their angles and the rates of these, shape (n_tried, n_steps + 1), radians and
    downswings. For arm and club at angles a and a + h from hanging, of lengths l and k, Lagrange's
    equations give a'' + h'' = -l/k (a'' cos h + a'^2 sin h).
    """
    angle, rate = state
    dt = 1.0 / _STEPS
    held_rate = np.gradient(angle[0], dt)
    for k in range(_STEPS):
        h, v = angle[:, k], rate[:, k]
        v = np.where(firsts == k, held_rate[k], v)
        thrown = -ratio * (gain[k] * np.cos(h) + speed[k] ** 2 * np.sin(h)) - gain[k] - wrists.throw
        # The drag is taken at the end of the step, so that any is stable.
        after = (v + dt * thrown) / (1.0 + dt * wrists.drag)
        free = firsts <= k
        rate[:, k + 1] = np.where(free, after, 0.0)
        angle[:, k + 1] = np.where(free, h + dt * after, angle[:, k + 1])
