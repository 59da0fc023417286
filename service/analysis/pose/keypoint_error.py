"""How far a keypoint may be off: what its jitter shows, and what jitter can't show.

An estimator's points hardly jitter, and yet they lie off: each estimator has its own notion of
where a joint is, the notion drifts over tenths of a second as the body turns, and a hidden arm
is guessed. The table below is set on 21 real swings of which both an annotation by hand and the
output of an estimator are known (J-HMDB, 30 frames a second, the player some 170 pixels tall;
``python -m tests.reference.estimator.errors`` prints what it is drawn from), so how those clips'
measures agree is no independent check of it.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from service.analysis.pose.conditioning import Conditioned
from service.analysis.pose.points import ANATOMICAL
from service.analysis.pose.unsureness import confidence_at, unsureness
from service.analysis.types import BoolArray, FloatArray

ANNOTATOR_SPREAD: Final[dict[str, float]] = {
    "nose": 0.026,
    "eye": 0.025,
    "ear": 0.035,
    "shoulder": 0.079,
    "elbow": 0.072,
    "wrist": 0.062,
    "hip": 0.107,
    "knee": 0.087,
    "ankle": 0.089,
}
"""Spread of human annotators per joint as a share of the root of the person's area: the
keypoint constants of the COCO evaluation (Lin et al. 2014; values from memory)."""

_SURE: Final[dict[str, float]] = {
    "nose": 0.0075,
    "eye": 0.0075,
    "ear": 0.0075,
    "head": 0.0075,
    "shoulder": 0.0085,
    "elbow": 0.0105,
    "wrist": 0.0085,
    "hand": 0.0085,
    "hip": 0.011,
    "knee": 0.009,
    "ankle": 0.0085,
    "heel": 0.009,
    "toe": 0.009,
    "grip_end": 0.0065,
    "grip": 0.0065,
    "shaft_mid": 0.0065,
    "clubhead": 0.0065,
}
"""Body heights on one axis by which a point is off that its source is sure of, whatever its
jitter. Shoulders to ankles: set on the 21 swings, with more of the difference taken for the
estimator's where simulated ones err more than was said of them (hips, knees, ankles) and less where
they err less (elbows). The face, which errs as the simulated estimator's does, the feet, a little
worse than the ankle, and the club, a thin line with ends, are judgements."""
_OTHER: Final[float] = 0.009
"""The same for points that a layout makes of others."""
_UNTOLD: Final[float] = 2.2
"""The same factor where the source tells no confidence: what was hidden and guessed can't be told
from what was seen. The two readings of the 21 swings differ by what a factor of 3 and sure points
make together; how much of that is the annotators' and how much the estimator's, those swings can't
tell. Here the annotators have half of it, root of (1 + 3 ** 2) / 2, as in the simulator: with
most of it two uncertainties held 99 % of the truth on simulated clips marked by hand, with half
98 %."""
_SET_ANEW: Final[float] = 0.003
"""Body heights of mean jitter from which points without confidence are taken to be set anew in
every frame, by hand or by an estimator; annotated swings show 0.004 to 0.007."""
_COMPUTED: Final[float] = 0.75
"""The factor where points without confidence don't jitter at all: computed from a motion, they are
no estimator's, but the motion's own joints lie off too (a judgement)."""


def pose_error(conditioned: Conditioned, scale: float) -> FloatArray:
    """One standard deviation of each conditioned point on one axis, in body heights.

    The jitter and the steady or slowly drifting error of a source of keypoints, which no filter
    shows, add as variances. All of the jitter, though the filter takes some away: a source that
    jitters more drifts more too.

    Parameters
    ----------
    scale : float
        Body height in the unit of ``conditioned.points``. Its confidence is all 1 where the source
        tells none.

    Returns
    -------
    array of shape (n_points,)
        For the swing as a whole: a point that is hidden half of the time is worse than one that
        is always seen.
    """
    jitter = np.where(np.isnan(conditioned.noise), 0.0, conditioned.noise) / scale
    if ((conditioned.confidence == 1.0) | ~conditioned.observed).all():
        doubt: FloatArray | float = _untold(conditioned.noise / scale)
    else:
        doubt = _doubt(conditioned.confidence, conditioned.observed)
    return np.hypot(jitter, _STEADY_ERROR * doubt)


def sure_error(point: str) -> float:
    """Body heights on one axis by which a point is off that its source is sure of."""
    return _SURE.get(point.removeprefix("left_").removeprefix("right_"), _OTHER)


def confidence_of(point: str, error: FloatArray) -> FloatArray:
    """The confidence from which :func:`pose_error` reads an error: what a source that knows its
    error should tell.

    Parameters
    ----------
    error : array of any shape
        One standard deviation on one axis in body heights.

    Returns
    -------
    array of the same shape
        NaN where no confidence stands for so large an error.
    """
    return confidence_at(error / sure_error(point))


def _untold(raw_jitter: FloatArray) -> float:
    """Factor on the error of sure points where no confidence is told."""
    shown = raw_jitter[np.isfinite(raw_jitter)]
    jitter = float(shown.mean()) if shown.size else 0.0
    return _COMPUTED + (_UNTOLD - _COMPUTED) * min(jitter / _SET_ANEW, 1.0)


def _doubt(confidence: FloatArray, observed: BoolArray) -> FloatArray:
    """Factor on the error of sure points, root mean square over frames, shape (n_points,)."""
    count = np.add.reduce(observed, dtype=np.intp)
    ever = count.nonzero()[0]
    factor = unsureness(confidence.take(ever, axis=1))
    total = np.add.reduce(factor * factor * observed.take(ever, axis=1))
    doubt = np.ones(len(count))
    doubt[ever] = np.sqrt(total / count[ever])
    return doubt


_STEADY_ERROR: Final[FloatArray] = np.array([sure_error(name) for name in ANATOMICAL])
