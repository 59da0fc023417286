"""Errors of a real pose estimator on golf swings, drawn from what was measured.

Source of the numbers, unless said otherwise: ``python -m tests.reference.estimator_errors``, 21
real swings (J-HMDB videos, 320 x 240 at 30 frames a second, 4 of them face-on) annotated by hand
and seen by a widely used open estimator of 33 landmarks. Half of the variance of what the two
differ by is taken to be the estimator's. The tables hold numbers only; no clip is in them.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from scipy.ndimage import convolve1d

from service.analysis.pose.points import ANATOMICAL, CLUB_POINTS, swap_sides
from service.analysis.pose.stature import body_height
from service.analysis.types import FloatArray


class _Joint(NamedTuple):
    """One kind of joint.

    ``steady``, ``drift``, ``jitter`` and ``by_hand`` (an annotator's jitter) are standard
    deviations on one axis in body heights, ``memory`` the seconds in which a drift falls to 1/e.
    ``follows`` is the correlation of its drift with that of the joint before it on the limb.
    ``near`` and ``far`` are the confidence of the side toward the camera and of the hidden one, as
    log-odds, ``unrest`` its spread in time.

    What the annotated joints are off by steadily and by drift is as measured (but for the ankle's
    drift, measured 0.0129), and so is the jitter of shoulders, elbows and wrists. The jitter of
    hips, knees and ankles (measured 0.0011 to 0.0014), all confidences and the feet were moved from
    what was measured until ``python -m tests.reference.tell_estimated`` could tell the clips less
    well; they are set on the same clips that it tells apart.
    """

    steady: float
    drift: float
    jitter: float
    by_hand: float
    memory: float
    follows: float
    near: float
    far: float
    unrest: float


_CLIPS_DIFFER: Final[float] = 0.5
_POINTS_DIFFER: Final[float] = 0.25
"""Spread of the logarithm of errors between clips, and within a clip between points: jitter spreads
by 0.4 to 0.6 between the real clips. Set by ``tests.reference.tell_estimated``."""
_HALF: Final[float] = float(np.sqrt(0.5))
_WHITE: Final[dict[str, float]] = {"elbow": 0.7, "wrist": 0.9}
_WHITE_ELSE: Final[float] = 0.4
"""Share of the measured jitter that is independent from frame to frame; the rest of what second
differences show is the motion itself and the drift. Set by ``tests.reference.tell_estimated``."""
_JOINTS: Final[dict[str, _Joint]] = {
    "shoulder": _Joint(0.0135, 0.0191, 0.0021, 0.0044, 0.11, 0.0, 8.0, 5.6, 0.4),
    "elbow": _Joint(0.0168, 0.0318, 0.0078, 0.0099, 0.09, 0.35, 3.1, -0.9, 1.15),
    "wrist": _Joint(0.0150, 0.0291, 0.0102, 0.0126, 0.08, 0.63, 2.3, -0.5, 1.0),
    "hip": _Joint(0.0127, 0.0142, 0.0020, 0.0002, 0.16, 0.0, 7.2, 6.0, 0.55),
    "knee": _Joint(0.0110, 0.0146, 0.0023, 0.0007, 0.14, 0.45, 4.0, 0.5, 0.65),
    "ankle": _Joint(0.0102, 0.0165, 0.0014, 0.0011, 0.14, 0.60, 4.2, 0.9, 0.5),
    # Not annotated, so judgements: hands and feet like the joint before them, faces by how much
    # less annotators differ there (COCO's keypoint constants, from memory).
    "hand": _Joint(0.0150, 0.0291, 0.0095, 0.0095, 0.08, 0.90, 1.8, -0.5, 0.75),
    "heel": _Joint(0.0102, 0.0155, 0.0018, 0.0011, 0.14, 0.80, 2.9, 0.9, 0.4),
    "toe": _Joint(0.0102, 0.0129, 0.0035, 0.0011, 0.14, 0.70, 3.6, 1.2, 0.5),
    "small_toe": _Joint(0.0102, 0.0129, 0.0035, 0.0011, 0.14, 0.70, 3.6, 1.2, 0.5),
    "nose": _Joint(0.0060, 0.0090, 0.0015, 0.0030, 0.11, 0.0, 6.3, 6.3, 0.5),
    "eye": _Joint(0.0060, 0.0090, 0.0015, 0.0030, 0.11, 0.0, 6.3, 6.3, 0.5),
    "ear": _Joint(0.0060, 0.0090, 0.0028, 0.0030, 0.11, 0.0, 5.4, 4.5, 0.72),
}
_ELSE: Final = _Joint(0.0127, 0.0142, 0.0015, 0.0030, 0.13, 0.0, 6.3, 6.3, 0.4)
_BEFORE: Final[dict[str, str]] = {
    "elbow": "shoulder",
    "wrist": "elbow",
    "hand": "wrist",
    "knee": "hip",
    "ankle": "knee",
    "heel": "ankle",
    "toe": "ankle",
    "small_toe": "ankle",
}
_ACROSS: Final[float] = -0.56
"""Correlation of the sideways errors of the two shoulders, and of the two hips: what one is too far
out the other is too."""

_BLUR: Final[float] = 4.0
"""Body heights a second at which errors are 1.4 times those at rest: wrists are off by a third
more in the downswing than at the top."""
_MOST_BLUR: Final[float] = 2.0
_DRAWN: Final[float] = 0.08
"""Share of the way to the middle of the trunk by which a hidden arm is drawn there all the time; a
judgement from 78 to 97 % of far errors pointing to the trunk."""
_LOST: Final[float] = 0.9
"""Times a second that one arm is lost: measured 1.1 to 2.3 errors beyond 0.12 body heights a second
and arm, of which drift makes up a part."""
_CLIPS_LOSE: Final[float] = 0.5
"""Shape of the gamma distribution by which that rate differs between clips (a judgement)."""
_LOST_FOR: Final[float] = 0.1
"""Seconds; measured 2 to 3 frames of 30 a second."""
_LOST_TO: Final[tuple[float, float]] = (0.25, 0.8)
"""Share of the way to the trunk (a judgement)."""
_FORSAKEN: Final[float] = 0.7
"""Log-odds of confidence that a lost wrist falls by: measured 0.86 to 0.76, 0.68 to 0.50, 0.56 to
0.43 and 0.89 to 0.66."""
_HIDDEN_BEYOND: Final[tuple[float, float]] = (0.10, 0.04)
"""Metres that a joint must lie behind its other side to count as hidden, and how sharply that
sets in (a judgement)."""
_BETWEEN: Final[float] = 0.65
"""Spread of confidence between clips, log-odds."""
_KEPT: Final[float] = 0.6
"""Share of a joint's confidence that stays what it is on average over the clip, however it turns.
Like the spreads of confidence in the table, set by ``tests.reference.tell_estimated``."""
_SETTLES: Final[float] = 0.3
"""Seconds in which confidence changes."""


def _name(index: int) -> str:
    return ANATOMICAL[index].removeprefix("left_").removeprefix("right_")


_OF: Final[list[_Joint]] = [_JOINTS.get(_name(i), _ELSE) for i in range(len(ANATOMICAL))]
_WHITE_OF: Final[FloatArray] = np.array(
    [_WHITE.get(_name(i), _WHITE_ELSE) for i in range(len(ANATOMICAL))]
)
_CLUB: Final[list[int]] = [ANATOMICAL.index(name) for name in CLUB_POINTS]
_ARMS: Final[list[list[int]]] = [
    [ANATOMICAL.index(f"{side}_{joint}") for joint in ("elbow", "wrist", "hand")]
    for side in ("left", "right")
]
_CORNERS: Final[list[int]] = [
    ANATOMICAL.index(f"{side}_{joint}")
    for side in ("left", "right")
    for joint in ("shoulder", "hip")
]


def _column(which: str) -> FloatArray:
    return np.array([getattr(joint, which) for joint in _OF], dtype=float)


def measured_error(
    pixels: FloatArray,
    depth: FloatArray,
    times: FloatArray,
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
        Jitter of an annotator, and no arm lost: a person puts a hidden arm somewhere likely.

    Returns
    -------
    array of shape (n_frames, n_points, 2), pixels
    """
    height = body_height(pixels)
    steady = _HALF * _column("steady")[:, None] * rng.standard_normal(pixels.shape[1:])
    drift = _HALF * _column("drift")[:, None] * _drifts(pixels.shape, times, rng)
    jitter = (_WHITE_OF * _column("by_hand" if by_hand else "jitter"))[:, None]
    clip = np.exp(_CLIPS_DIFFER * rng.standard_normal())
    drift *= clip * np.exp(_POINTS_DIFFER * rng.standard_normal((drift.shape[1], 1)))
    jitter = jitter * clip * np.exp(_POINTS_DIFFER * rng.standard_normal(jitter.shape))
    white = jitter * rng.standard_normal(pixels.shape)
    for arm in _ARMS:
        # An estimator finds wrist and knuckles together.
        white[:, arm[2]] += white[:, arm[1]]
    error = steady + _blur(pixels / height, times)[..., None] * (drift + white)
    error *= height
    if not by_hand:
        error += _drawn_to_trunk(pixels, depth, times, rng)
    error[:, _CLUB] = 0.0
    return np.asarray(error)


def measured_confidence(
    error: FloatArray,
    pixels: FloatArray,
    depth: FloatArray,
    times: FloatArray,
    rng: np.random.Generator,
) -> FloatArray:
    """Confidence as that estimator gives it, to three decimals, shape (n_frames, n_points).

    High for whatever faces the camera, right or wrong; low for the far side's limbs and lower still
    where one is lost.
    """
    shape = depth.shape
    hidden = _hidden(depth)
    hidden = _KEPT * hidden.mean(axis=0) + (1.0 - _KEPT) * hidden
    odds = (1.0 - hidden) * _column("near") + hidden * _column("far")
    odds = odds + _BETWEEN * rng.standard_normal(shape[1])
    unrest = _column("unrest") * np.exp(0.35 * rng.standard_normal(shape[1]))
    unrest = np.broadcast_to(unrest, shape).copy()
    for arm in _ARMS:
        unrest[:, arm] *= 1.3 - 0.8 * hidden[:, arm]
    odds += unrest * _wander(shape, times, _SETTLES, rng)
    for arm in _ARMS:
        far_off = np.linalg.norm(error[:, arm], axis=-1) / body_height(pixels) > 0.12
        odds[:, arm] -= _FORSAKEN * far_off
    told: FloatArray = np.clip(1.0 / (1.0 + np.exp(-odds)), 0.003, 1.0)
    return np.asarray(np.round(told, 3))


def _drifts(shape: tuple[int, ...], times: FloatArray, rng: np.random.Generator) -> FloatArray:
    """Unit drifts of all points: each follows the joint before it and opposes its other side."""
    one = (shape[0], shape[2])
    drifts = np.stack([_wander(one, times, joint.memory, rng) for joint in _OF], axis=1)
    for joint in ("shoulder", "hip"):
        left, right = (ANATOMICAL.index(f"{side}_{joint}") for side in ("left", "right"))
        own = np.sqrt(1.0 - _ACROSS**2) * drifts[:, right, 0]
        drifts[:, right, 0] = _ACROSS * drifts[:, left, 0] + own
    for joint, before in _BEFORE.items():
        share = _JOINTS[joint].follows
        for side in ("left", "right"):
            here, there = (ANATOMICAL.index(f"{side}_{name}") for name in (joint, before))
            drifts[:, here] = share * drifts[:, there] + np.sqrt(1.0 - share**2) * drifts[:, here]
    return drifts


def _wander(
    shape: tuple[int, ...], times: FloatArray, memory: float, rng: np.random.Generator
) -> FloatArray:
    """Smooth unit noise, frames first, whose autocorrelation is 1/e after ``memory`` seconds."""
    step = (times[-1] - times[0]) / max(times.size - 1, 1)
    width = 0.5 * memory / max(step, 1e-6)
    reach = int(np.ceil(4.0 * width))
    kernel = np.exp(-0.5 * (np.arange(-reach, reach + 1) / width) ** 2)
    kernel /= np.sqrt((kernel**2).sum())
    shocks = rng.standard_normal((shape[0] + 2 * reach, *shape[1:]))
    return np.asarray(convolve1d(shocks, kernel, axis=0)[reach : reach + shape[0]])


def _blur(points: FloatArray, times: FloatArray) -> FloatArray:
    """Growth of the error with speed, shape (n_frames, n_points); ``points`` in body heights."""
    if times.size < 2:
        return np.ones(points.shape[:2])
    speed = np.linalg.norm(np.gradient(points, times, axis=0), axis=-1)
    return np.asarray(np.minimum(np.hypot(1.0, np.nan_to_num(speed) / _BLUR), _MOST_BLUR))


def _hidden(depth: FloatArray) -> FloatArray:
    """How far each sided point lies behind its other side, 0 to 1, shape (n_frames, n_points).

    The hands meet, so that an arm is as hidden as its shoulder and its hip at least.
    """
    beyond, sharp = _HIDDEN_BEYOND
    behind = np.nan_to_num(depth - swap_sides(depth))
    for arm, side in zip(_ARMS, ("left", "right"), strict=True):
        trunk = [ANATOMICAL.index(f"{side}_{joint}") for joint in ("shoulder", "hip")]
        farthest = np.maximum(behind[:, trunk[0]], behind[:, trunk[1]] + 0.5 * beyond)
        behind[:, arm] = np.maximum(behind[:, arm], farthest[:, None])
    return np.asarray(1.0 / (1.0 + np.exp(-(behind - beyond) / sharp)))


def _drawn_to_trunk(
    pixels: FloatArray, depth: FloatArray, times: FloatArray, rng: np.random.Generator
) -> FloatArray:
    """Shift of the arms toward the middle of the trunk, a little if hidden and far if lost."""
    shift = np.zeros_like(pixels)
    middle = pixels[:, _CORNERS].mean(axis=1)[:, None]
    hidden = _hidden(depth)
    rate = _LOST * rng.gamma(_CLIPS_LOSE, 1.0 / _CLIPS_LOSE)
    for arm in _ARMS:
        share = _DRAWN * hidden[:, arm].mean(axis=1)
        for _ in range(rng.poisson(rate * (times[-1] - times[0]))):
            at, length = rng.uniform(times[0], times[-1]), rng.exponential(_LOST_FOR)
            bump = np.exp(-0.5 * ((times - at) / (0.5 * length + 0.01)) ** 2)
            share = np.maximum(share, rng.uniform(*_LOST_TO) * bump)
        shift[:, arm] = share[:, None, None] * (middle - pixels[:, arm])
    return shift
