"""Errors of a real pose estimator on golf swings, drawn from what was measured.

The sizes are those of :mod:`training.simulator.filming.estimating.joint_errors`. Half of the
variance of what estimator and annotators differ by is taken to be the estimator's. The numbers here
are measured on the same pairs unless they are called judgements, and where it says so, set by
``python -m tests.reference.estimator.tell_apart``.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np

from service.analysis.pose.points import ANATOMICAL, CLUB_POINTS
from service.analysis.pose.stature import body_height
from service.analysis.types import FloatArray
from training.simulator.filming.estimating.common_errors import linked, shared, wander
from training.simulator.filming.estimating.joint_errors import column
from training.simulator.filming.estimating.liveliness import Pace
from training.simulator.filming.estimating.lost_arms import drawn_to_trunk

_HALF: Final[float] = float(np.sqrt(0.5))
_DIFFER: Final[float] = 0.5
"""Spread of the logarithm of the size of errors: that of jitter is 0.4 to 0.6 in real clips."""
_ALIKE: Final[FloatArray] = shared(clip=0.15, part=0.5, limb=0.15)
"""How sizes go together: in real clips jitter correlates by 0.5 to 0.8 within the upper body and
by 0.6 to 0.9 within the lower one, by 0.1 to 0.4 between them, golf or any other action."""
_DRIFT_LIKE_JITTER: Final[float] = 0.65
"""Correlation of the size of a drift with that of the jitter (a judgement from how far feet slide
where they jitter: 0.3)."""

_TICK: Final[float] = 1.0 / 120.0
"""Seconds between the moments at which drifts are drawn."""
_BLUR: Final[float] = 4.0
_MOST_BLUR: Final[float] = 2.0
"""Body heights a second at which errors are 1.4 times those at rest, as wrists are off by a third
more in the downswing than at the top; and by how much they grow at most."""

_CLUB: Final[list[int]] = [ANATOMICAL.index(name) for name in CLUB_POINTS]


class ClipSizes(NamedTuple):
    """How large errors are in one clip, as unit deviates of each point, shapes (n_points,)."""

    jitter: FloatArray
    drift: FloatArray

    @classmethod
    def drawn(cls, rng: np.random.Generator) -> ClipSizes:
        """Those of another clip."""
        jitter, other = rng.standard_normal((2, len(_ALIKE))) @ _ALIKE
        own = np.sqrt(1.0 - _DRIFT_LIKE_JITTER**2)
        return cls(jitter, _DRIFT_LIKE_JITTER * jitter + own * other)


def measured_error(
    pixels: FloatArray,
    depth: FloatArray,
    times: FloatArray,
    sizes: ClipSizes,
    rng: np.random.Generator,
    *,
    by_hand: bool,
) -> FloatArray:
    """What to add to the true image points, none for the club.

    Parameters
    ----------
    pixels : array of shape (n_frames, n_points, 2)
    depth : array of shape (n_frames, n_points)
        Metres from the camera.
    times : array of shape (n_frames,)
        Seconds.
    sizes : ClipSizes
        How large errors are in this clip.
    by_hand : bool
        Jitter of an annotator, who marks each frame and joint anew, and no arm lost: a person puts
        a hidden arm somewhere likely.

    Returns
    -------
    array of shape (n_frames, n_points, 2), pixels
    """
    height = body_height(pixels)
    pace = Pace.of(pixels / height, times)
    blur = np.minimum(np.hypot(1.0, pace.speed / _BLUR), _MOST_BLUR)
    jitter, drift = (np.exp(_DIFFER * size) for size in sizes)
    white = rng.standard_normal(pixels.shape)
    if by_hand:
        jitter = blur * (column("by_hand") * jitter)
    else:
        white, jitter = linked(white), pace.liveliness(rng) * (column("jitter") * jitter)
    drift = blur * (_HALF * column("drift") * drift)
    steady = _HALF * column("steady")[:, None] * linked(rng.standard_normal(white[:1].shape))
    drifting = drift[..., None] * _drifts(pace.clock(rng), rng)
    error = height * (steady + drifting + jitter[..., None] * white)
    if not by_hand:
        error += drawn_to_trunk(pixels, depth, pace, rng)
    error[:, _CLUB] = 0.0
    return np.asarray(error)


def _drifts(clock: FloatArray, rng: np.random.Generator) -> FloatArray:
    """Unit drifts of all points by a clock in seconds of shape (n_frames,), shape (n_frames,
    n_points, 2)."""
    ticks = np.arange(clock[0], clock[-1] + 2.0 * _TICK, _TICK)
    drifts = linked(
        np.stack([wander((ticks.size, 2), ticks, m, rng) for m in column("memory")], axis=1)
    )
    at = (clock - clock[0]) / _TICK
    before = at.astype(np.intp)
    share = (at - before)[:, None, None]
    return np.asarray((1.0 - share) * drifts[before] + share * drifts[before + 1])
