"""Errors of a real pose estimator on golf swings, drawn from what was measured.

The sizes are those of :mod:`training.simulator.filming.joint_errors`. Half of the variance of what
estimator and annotators differ by is taken to be the estimator's. The numbers here are measured on
the same pairs unless they are called judgements, and where it says so, set by ``python -m
tests.reference.tell_estimated``.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from scipy.ndimage import maximum_filter1d

from service.analysis.pose.points import ANATOMICAL, CLUB_POINTS
from service.analysis.pose.stature import body_height
from service.analysis.types import FloatArray
from training.simulator.filming.common_errors import linked, shared, wander
from training.simulator.filming.hidden_sides import hidden
from training.simulator.filming.joint_errors import ARMS, JOINTS, NAMES, column

_HALF: Final[float] = float(np.sqrt(0.5))
_DIFFER: Final[float] = 0.5
"""Spread of the logarithm of the size of errors: jitter spreads by 0.4 to 0.6 between real clips."""
_ALIKE: Final[FloatArray] = shared(clip=0.15, part=0.5, limb=0.15)
"""How sizes go together: in real clips jitter correlates by 0.5 to 0.8 within the upper body and
by 0.6 to 0.9 within the lower one, by 0.1 to 0.4 between them, golf or any other action."""
_DRIFT_LIKE_JITTER: Final[float] = 0.65
"""Correlation of the size of a drift with that of the jitter (a judgement from how far feet slide
where they jitter: 0.3)."""

_CALM: Final[float] = 0.35
_BRISK: Final[float] = 1.1
_LIVELY: Final[float] = 0.8
"""The jitter's share while nobody moves, and the speeds of the joint and of the whole body (its mean
over the points), body heights a second, at which it is once what the table says. In real clips all
joints jitter three to ten times as much in the downswing as at address: a smoothing that is firm at
rest gives way when the player is fast."""
_BEFORE, _AFTER = 0.05, 0.30
"""Seconds before and after a frame in which the speed of the whole body counts: errors settle
slowly."""
_BURSTS: Final[float] = 1.0
_BURST_SECONDS: Final[float] = 0.06
_MOST_BURST: Final[float] = 4.0
_BURSTS_ALIKE: Final[FloatArray] = shared(clip=0.4, part=0.2, limb=0.2)
"""Spread of the logarithm by which jitter, and the pace of drifts, come and go besides, how long that
lasts, and how points have it in common. In real clips a joint's largest tenth of second differences
are 6 to 12 times those of its calmest quarter (set by that)."""
_TICK: Final[float] = 1.0 / 120.0
_PACE: Final[float] = 0.35
_PACES: Final[tuple[float, float]] = (0.3, 1.4)
"""Seconds between the moments at which drifts are drawn; the speed of the whole body at which they
change as fast as was measured; and how much slower and faster they do: of the same pose an estimator
makes the same error, so that it stays while the player stands (a judgement; in real clips elbows and
wrists at address jitter by a quarter of what they do in the swing)."""
_BLUR: Final[float] = 4.0
"""Body heights a second at which errors are 1.4 times those at rest: wrists are off by a third
more in the downswing than at the top."""
_MOST_BLUR: Final[float] = 2.0
_MOST_LIVELY: Final[float] = 4.0

_DRAWN: Final[float] = 0.08
"""Share of the way to the middle of the trunk by which a hidden arm is drawn there all the time; a
judgement from 78 to 97 % of far errors pointing to the trunk."""
_LOST: Final[float] = 1.7
"""Times a second that one arm is lost: measured 1.1 to 2.3 errors beyond 0.12 body heights a second
and arm, of which drift makes up a part."""
_CLIPS_LOSE: Final[float] = 0.3
"""Shape of the gamma distribution by which that rate differs between clips (a judgement)."""
_LOST_FOR: Final[tuple[float, float]] = (0.08, 1.2)
"""Median in seconds, measured 2 to 3 frames of 30 a second, and spread of its logarithm (a
judgement: in one clip in ten the wrists are apart for half of it)."""
_LOST_TO: Final[tuple[float, float]] = (0.25, 1.0)
"""Share of the way to the trunk (a judgement)."""
_SELDOM: Final[float] = 0.1
"""How much less often an arm is lost that hangs and rests than one that is raised: no wrists of
real clips lie far apart at address."""
_RAISED: Final[float] = 0.15
_SWIFT: Final[float] = 3.0
"""Body heights above the hips, and body heights a second, at which a wrist is as easily lost as
anywhere (judgements)."""

_CLUB: Final[list[int]] = [ANATOMICAL.index(name) for name in CLUB_POINTS]
_CORNERS: Final[list[int]] = [
    ANATOMICAL.index(f"{side}_{joint}")
    for side in ("left", "right")
    for joint in ("shoulder", "hip")
]
_HIPS: Final[list[int]] = [ANATOMICAL.index(f"{side}_hip") for side in ("left", "right")]


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
    by_hand: bool = False,
) -> FloatArray:
    """What to add to the true image points, none for the club.

    Parameters
    ----------
    pixels : array of shape (n_frames, n_points, 2)
    depth : array of shape (n_frames, n_points)
        Metres from the camera.
    times : array of shape (n_frames,)
        Seconds.
    by_hand : bool
        Jitter of an annotator, who marks each frame and joint anew, and no arm lost: a person puts
        a hidden arm somewhere likely.

    Returns
    -------
    array of shape (n_frames, n_points, 2), pixels
    """
    height = body_height(pixels)
    speed = _speed(pixels / height, times)
    whole = _of_whole_body(speed, times)
    blur = np.minimum(np.hypot(1.0, speed / _BLUR), _MOST_BLUR)
    jitter_size, drift_size = (np.exp(_DIFFER * size) for size in sizes)
    steady = _HALF * column("steady")[:, None] * linked(rng.standard_normal((1, *pixels.shape[1:])))
    drift = _HALF * (column("drift") * drift_size)[:, None] * _drifts(_clock(whole, times, rng), rng)
    white = rng.standard_normal(pixels.shape)
    if by_hand:
        jitter = blur * (column("by_hand") * jitter_size)
    else:
        bursts = _BURSTS * wander((len(times), len(_BURSTS_ALIKE)), times, _BURST_SECONDS, rng)
        lively = _liveliness(whole, speed) * np.exp(bursts @ _BURSTS_ALIKE)
        white, jitter = linked(white), lively * (column("jitter") * jitter_size)
    error = height * (steady + blur[..., None] * drift + jitter[..., None] * white)
    if not by_hand:
        error += _drawn_to_trunk(pixels, depth, times, speed, rng)
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


def _clock(whole: FloatArray, times: FloatArray, rng: np.random.Generator) -> FloatArray:
    """Seconds by which drifts change, shape (n_frames,), from the speed of the whole body."""
    bursts = _BURSTS * wander((len(times),), times, _BURST_SECONDS, rng)
    pace = np.clip(whole / _PACE, *_PACES) * np.minimum(np.exp(bursts - 0.5 * _BURSTS**2), _MOST_BURST)
    return np.append(0.0, np.cumsum(0.5 * (pace[1:] + pace[:-1]) * np.diff(times)))


def _speed(points: FloatArray, times: FloatArray) -> FloatArray:
    """Of every point, body heights a second, shape (n_frames, n_points)."""
    if times.size < 2:
        return np.zeros(points.shape[:2])
    speed = np.linalg.norm(np.gradient(points, times, axis=0), axis=-1)
    return np.asarray(np.nan_to_num(speed))


def _of_whole_body(speed: FloatArray, times: FloatArray) -> FloatArray:
    """How fast the body is or just was, shape (n_frames,); ``speed`` in body heights a second."""
    whole = np.delete(speed, _CLUB, axis=1).mean(axis=1)
    step = (times[-1] - times[0]) / max(times.size - 1, 1)
    before, after = (int(round(seconds / max(step, 1e-6))) for seconds in (_BEFORE, _AFTER))
    return np.asarray(
        maximum_filter1d(whole, before + after + 1, origin=(after - before) // 2)
    )


def _liveliness(whole: FloatArray, speed: FloatArray) -> FloatArray:
    """Factor on the jitter, shape (n_frames, n_points)."""
    growth = np.hypot(whole[:, None] / _LIVELY, speed / _BRISK)
    return np.asarray(np.minimum(np.hypot(_CALM, growth), _MOST_LIVELY))


def _drawn_to_trunk(
    pixels: FloatArray,
    depth: FloatArray,
    times: FloatArray,
    speed: FloatArray,
    rng: np.random.Generator,
) -> FloatArray:
    """Shift of the arms toward the middle of the trunk, a little if hidden and far if lost."""
    shift = np.zeros_like(pixels)
    middle = pixels[:, _CORNERS].mean(axis=1)[:, None]
    unseen = hidden(depth)
    rate = _LOST * rng.gamma(_CLIPS_LOSE, 1.0 / _CLIPS_LOSE)
    for arm in ARMS:
        share = _DRAWN * unseen[:, arm].mean(axis=1)
        easily = _easily_lost(pixels, speed, arm[1])
        for _ in range(rng.poisson(rate * easily.mean() * (times[-1] - times[0]))):
            at = rng.choice(times, p=easily / easily.sum())
            length = _LOST_FOR[0] * np.exp(_LOST_FOR[1] * rng.standard_normal())
            bump = np.exp(-0.5 * ((times - at) / (0.5 * length + 0.01)) ** 2)
            share = np.maximum(share, rng.uniform(*_LOST_TO) * bump)
        shift[:, arm] = share[:, None, None] * (middle - pixels[:, arm])
    return shift


def _easily_lost(pixels: FloatArray, speed: FloatArray, wrist: int) -> FloatArray:
    """How easily an arm is lost in each frame, from :data:`_SELDOM` to 1, shape (n_frames,)."""
    above = pixels[:, _HIPS, 1].mean(axis=1) - pixels[:, wrist, 1]
    raised = above / (_RAISED * body_height(pixels))
    return np.asarray(np.clip(np.maximum(raised, speed[:, wrist] / _SWIFT), _SELDOM, 1.0))
