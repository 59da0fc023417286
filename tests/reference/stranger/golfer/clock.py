"""When the key poses come, and the curves through them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from service.analysis.types import FloatArray, Intent
from tests.reference.stranger.golfer.faults import tempo_with
from tests.reference.stranger.vectors import RATE, smooth, through

_REHEARSALS: Final = 0.15
"""Share of rehearsals; judgement."""
_LEADS: Final[tuple[float, float]] = (1.0, 0.5)
"""By how much of its lead a part of the body is early at P4 and P5."""
_CALM: Final = 0.25
"""Share of that in a rehearsal; judgement."""


@dataclass(frozen=True)
class Clock:
    """Seconds from the first sample.

    Attributes
    ----------
    times : array of shape (n,)
        Of the samples, :data:`~tests.reference.stranger.vectors.RATE` a second.
    keys : array of shape (10,)
        When the key poses come; P4 where a pause at the top begins.
    pause, recoil
        How long the top is held, and how long the arms come back down from the finish; 0 for none.
    softness
        Seconds by which curves are smoothed.
    leads
        By how many seconds legs and trunk turn back before the arms do.
    """

    times: FloatArray
    keys: FloatArray
    pause: float
    recoil: float
    softness: float
    leads: tuple[float, float]
    intent: Intent

    def curve(self, values: FloatArray, lead: float = 0.0, recoil: float = 0.0) -> FloatArray:
        """A smooth curve (n,) through values at P1 to P10, so many seconds early at the top, going
        on by ``recoil`` where there is one."""
        knots = self.keys.copy()
        knots[3:5] -= lead * np.array(_LEADS)
        if self.recoil > 0.0:
            knots = np.append(knots, knots[-1] + self.recoil)
            values = np.append(values, values[-1] + recoil)
        if self.pause > 0.0:
            knots = np.insert(knots, 4, knots[3] + self.pause)
            values = np.insert(values, 4, values[3])
        return smooth(through(knots, values, self.times), self.softness)

    def legs(self, values: FloatArray) -> FloatArray:
        """A curve of what legs and pelvis do, which turn back first."""
        return self.curve(values, self.leads[0])

    def trunk(self, values: FloatArray) -> FloatArray:
        """A curve of what the trunk does, which turns back second."""
        return self.curve(values, self.leads[1])

    def sample(self, time: float) -> int:
        """The first sample at or after a time."""
        return int(np.searchsorted(self.times, time))


def random_clock(
    rng: np.random.Generator, faults: Mapping[str, float], rehearsal: bool | None
) -> Clock:
    """Times of a swing: tempo of 3 to 1 and a downswing of 0.19 to 0.42 s at full speed, slower and
    more even in a rehearsal; common practice, spreads are judgements."""
    calm = rng.random() < _REHEARSALS if rehearsal is None else rehearsal
    back, down = _tempo(rng, faults, calm=calm)
    pause = float(rng.uniform(0.0, 0.12)) * (rng.random() < 0.2) * (2.0 if calm else 1.0)
    before, after = float(rng.uniform(0.5, 1.3)), float(rng.uniform(0.35, 0.9))
    recoil = float(rng.uniform(0.3, 0.7)) * (rng.random() < 0.4)
    top = back + pause
    jitter = rng.normal(0.0, [0.04, 0.03, 0.03, 0.015, 0.03 * (not calm), 0.06 * (not calm)])
    up = back * (np.array([0.40, 0.67]) + jitter[:2])
    into = top + down * (np.array([0.55, 0.79]) + jitter[2:4])
    past = top + down * (1.0 + (np.array([0.33, 0.8] if calm else [0.25, 0.62]) + jitter[4:]))
    finish = top + 2.0 * down + float(rng.uniform(0.35, 0.75)) * (2.5 if calm else 1.0)
    keys = before + np.array([0.0, *up, back, *into, top + down, *past, finish])
    slower = _CALM if calm else 1.0
    return Clock(
        times=np.arange(0.0, keys[-1] + after + recoil, 1.0 / RATE),
        keys=keys,
        pause=pause,
        recoil=recoil,
        softness=float(rng.uniform(0.012, 0.028)) * (2.0 if calm else 1.0),
        leads=(
            slower * down * float(np.clip(rng.normal(0.12, 0.05), 0.0, 0.25)),
            slower * down * float(np.clip(rng.normal(0.05, 0.03), 0.0, 0.12)),
        ),
        intent=Intent.REHEARSAL if calm else Intent.FULL_SPEED,
    )


def _tempo(
    rng: np.random.Generator, faults: Mapping[str, float], *, calm: bool
) -> tuple[float, float]:
    """Seconds back and down: who hurries takes the club back faster."""
    if calm:
        back, ratio = float(rng.uniform(1.8, 3.2)), float(rng.uniform(1.2, 2.6))
        return back, back / tempo_with(ratio, faults)
    back = float(np.clip(rng.normal(0.85, 0.14), 0.6, 1.25))
    ratio = float(np.clip(rng.normal(3.0, 0.35), 2.35, 4.0))
    down = float(np.clip(back / ratio, 0.19, 0.42))
    return down * tempo_with(ratio, faults), down
