"""How what turns and shifts goes from address over the top and impact to the finish, in time."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from scipy.optimize import brentq
from scipy.special import betainc

from service.analysis.types import FloatArray

_POWERS: Final = (0.7, 40.0)
"""Within which the power is sought that a stroke stops by."""
_SMOOTH: Final = 2.3
_HANDED_ON: Final = 0.10
"""Downswings before and after impact in which one stroke hands on to the next."""


@dataclass(frozen=True)
class Clock:
    """When the moments of a swing are, seconds: the takeaway starts, the arm is at the top and
    leaves it, the club meets the ball, the arms stop."""

    start: float
    top: float
    leaves: float
    impact: float
    finish: float

    @property
    def back(self) -> float:
        """Seconds of the backswing."""
        return self.top - self.start

    @property
    def down(self) -> float:
        """Seconds of the downswing."""
        return self.impact - self.leaves

    @property
    def through(self) -> float:
        """Seconds from impact to the finish."""
        return self.finish - self.impact


@dataclass(frozen=True)
class Places:
    """One quantity at address, at the top, at impact and in the finish."""

    address: float
    top: float
    impact: float
    finish: float


def step(
    times: FloatArray, begin: float, end: float, starts: float = _SMOOTH, stops: float = _SMOOTH
) -> FloatArray:
    """Share of a stroke that is done, shape (n,), from 0 at ``begin`` to 1 at ``end``.

    Its speed is that of the beta distribution: powers of 2 start and stop evenly, larger ones
    creep away from rest and up to it.

    >>> step(np.array([0.0, 0.5, 1.0]), 0.0, 1.0).tolist()
    [0.0, 0.5, 1.0]
    """
    share = (times - begin) / max(end - begin, 1e-6)
    done = np.where(share < 1.0, 0.0, 1.0)
    on = (share > 0.0) & (share < 1.0)
    done[on] = betainc(starts, stops, share[on])
    return done


def stopping_power(starts: float, at: float, done: float) -> float:
    """Power by which a stroke stops that has done a share of its way at a share of its time.

    >>> round(stopping_power(2.0, 0.5, 0.5), 6)
    2.0
    """

    def off(stops: float) -> float:
        return float(betainc(starts, stops, at)) - done

    least, most = _POWERS
    if off(least) > 0.0:
        return least
    if off(most) < 0.0:
        return most
    return float(brentq(off, least, most, xtol=1e-6))


@dataclass(frozen=True)
class Stroke:
    """What turns: one stroke back, another from the top through impact to the finish.

    Attributes
    ----------
    places
        Degrees or statures.
    begins, ends, turns
        Seconds: when it starts back, has come to the top and turns forward.
    finish, stops
        Seconds when the second stroke ends, and the power by which it does.
    back, comes_down
        Powers by which the stroke back starts and stops, and by which the second starts.
    """

    places: Places
    begins: float
    ends: float
    turns: float
    finish: float
    stops: float
    back: tuple[float, float] = (_SMOOTH, _SMOOTH)
    comes_down: float = _SMOOTH

    def at(self, times: FloatArray) -> FloatArray:
        """Values at times, both of shape (n,)."""
        p = self.places
        back = step(times, self.begins, self.ends, *self.back)
        down = step(times, self.turns, self.finish, self.comes_down, self.stops)
        return p.address + (p.top - p.address) * back + (p.finish - p.top) * down


def stroke(
    clock: Clock,
    places: Places,
    lag: float = 0.0,
    early: float = 0.0,
    lead: float = 0.0,
    back: tuple[float, float] = (_SMOOTH, _SMOOTH),
    comes_down: float = _SMOOTH,
) -> Stroke:
    """A stroke that passes its place of impact at impact.

    Parameters
    ----------
    lag, early
        Shares of the backswing by which it starts later, and is at the top sooner, than the clock
        says.
    lead
        Share of the downswing by which it turns forward sooner.
    """
    turns = clock.leaves - lead * clock.down
    done = np.clip((places.impact - places.top) / (places.finish - places.top), 0.03, 0.97)
    at = (clock.impact - turns) / (clock.finish - turns)
    return Stroke(
        places,
        clock.start + lag * clock.back,
        clock.top - early * clock.back,
        turns,
        clock.finish,
        stopping_power(comes_down, at, float(done)),
        back,
        comes_down,
    )


@dataclass(frozen=True)
class Shift:
    """What shifts: three strokes, to the top, to impact and to the finish, each handing on to the
    next. ``lead`` is the share of the downswing by which the second begins sooner, ``early`` that
    of the backswing by which the first ends sooner."""

    clock: Clock
    places: Places
    lead: float = 0.0
    early: float = 0.0

    def at(self, times: FloatArray) -> FloatArray:
        """Values at times, both of shape (n,)."""
        c, p, over = self.clock, self.places, _HANDED_ON * self.clock.down
        back = step(times, c.start, c.top - self.early * c.back)
        down = step(times, c.leaves - self.lead * c.down, c.impact + over)
        through = step(times, c.impact - over, c.finish)
        return (
            p.address
            + (p.top - p.address) * back
            + (p.impact - p.top) * down
            + (p.finish - p.impact) * through
        )


def shift(clock: Clock, places: Places, lead: float = 0.0, early: float = 0.0) -> Shift:
    """A shift that is at its place of impact at impact, where two of its strokes overlap."""
    over, at = _HANDED_ON * clock.down, np.array([clock.impact])
    down = float(step(at, clock.leaves - lead * clock.down, clock.impact + over)[0])
    through = float(step(at, clock.impact - over, clock.finish)[0])
    aim = (places.impact - places.top * (1.0 - down) - places.finish * through) / (down - through)
    return Shift(clock, replace(places, impact=aim), lead, early)


Course = Stroke | Shift
