"""Arms that a pose estimator draws to the trunk, or loses behind it for a while.

Measured by ``python -m tests.reference.estimator.errors`` where it doesn't say otherwise.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from service.analysis.pose.points import ANATOMICAL
from service.analysis.pose.stature import body_height
from service.analysis.types import FloatArray
from training.simulator.filming.estimating.hidden_sides import CORNERS, hidden
from training.simulator.filming.estimating.joint_errors import ARMS
from training.simulator.filming.estimating.liveliness import Pace

_DRAWN: Final[float] = 0.08
"""Share of the way to the middle of the trunk by which a hidden arm is drawn there all the time; a
judgement from 78 to 97 % of far errors pointing to the trunk."""
_LOST: Final[float] = 1.1
"""Times a second that one arm is lost where it is easily lost: measured 1.1 to 2.3 errors beyond
0.12 body heights a second and arm, of which drift makes up a part, or 9 to 22 % of the frames."""
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
_HIPS: Final[list[int]] = [ANATOMICAL.index(f"{side}_hip") for side in ("left", "right")]


def drawn_to_trunk(
    pixels: FloatArray, depth: FloatArray, pace: Pace, rng: np.random.Generator
) -> FloatArray:
    """Shift of the arms toward the middle of the trunk, a little if hidden and far if lost.

    Parameters
    ----------
    pixels : array of shape (n_frames, n_points, 2)
    depth : array of shape (n_frames, n_points)
        Metres from the camera.
    pace : Pace
        How fast the points are.

    Returns
    -------
    array of shape (n_frames, n_points, 2), pixels
    """
    times = pace.times
    shift = np.zeros_like(pixels)
    middle = pixels[:, CORNERS].mean(axis=1)[:, None]
    unseen = hidden(depth)
    rate = _LOST * rng.gamma(_CLIPS_LOSE, 1.0 / _CLIPS_LOSE)
    for arm in ARMS:
        share = _DRAWN * unseen[:, arm].mean(axis=1)
        easily = _easily_lost(pixels, pace.speed[:, arm[1]], arm[1])
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
    return np.asarray(np.clip(np.fmax(raised, speed / _SWIFT), _SELDOM, 1.0))
