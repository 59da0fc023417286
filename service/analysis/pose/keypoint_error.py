"""How far a keypoint may be off: what its jitter shows, and what jitter can't show.

An estimator's points hardly jitter, and yet they lie off: each estimator has its own notion of
where a joint is, the notion drifts over tenths of a second as the body turns, and a hidden arm
is guessed. The table below is set on 21 real swings of which both an annotation by hand and the
output of an estimator are known (J-HMDB, 30 frames a second, the player some 170 pixels tall;
``python -m tests.reference.estimator.errors`` prints what it is drawn from), so how those clips'
measures agree is no independent check of it.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final, NamedTuple

import numpy as np

from service.analysis.pose.conditioning import Conditioned
from service.analysis.pose.points import ANATOMICAL, CLUB_POINTS, joint_of
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
_SMOOTHED: Final[dict[str, float]] = {
    "shoulder": 1.5,
    "elbow": 1.2,
    "wrist": 1.3,
    "hand": 1.3,
    "knee": 1.1,
}
"""How many times as far off they are where the source smooths what it tells, so that no jitter
shows: on simulated clips with a real estimator's errors shoulders lie 1.8 times as far off as the
table above says, wrists 1.6, elbows 1.35 and knees 1.2, arms not least where an arm is lost, which
makes more of a rare few; set a little below."""
_FRAME_BY_FRAME: Final[float] = 0.7
_DRIFTS_LIKE_JITTER: Final[float] = 1.2
"""Factors on the errors of that table and on the jitter of a source that finds each frame's points
anew: of its error much is jitter, and what is not grows with it. With both, points are as far off
as is said within a tenth on gentle errors of the makes and on motion capture, whatever the jitter
and the frame rate (0.9 to 0.95), and a little less on the stranger's golfer (0.8), whose errors
nothing was set on; with 1.0 and 1.0 it was 0.85, 0.77 and 0.6."""
_STILL: Final[tuple[float, float]] = (0.001, 0.002)
"""Body heights of jitter, in the middle over the body's points, up to which a source is taken to
smooth, and from which to find each frame anew. The estimator's on real swings jitter by some
0.0005, simulated ones that don't smooth by 0.002 to 0.016."""
_UNTOLD: Final[float] = 2.2
"""The same factor where the source tells no confidence: what was hidden and guessed can't be told
from what was seen. The two readings of the 21 swings differ by what a factor of 3 and sure points
make together; how much of that is the annotators' and how much the estimator's, those swings can't
tell. Here the annotators have half of it, root of (1 + 3 ** 2) / 2, as in the simulator: with
most of it two uncertainties held 99 % of the truth on simulated clips marked by hand, with half
98 %."""
_MARKED: Final[dict[str, float]] = {"elbow": 1.1, "wrist": 1.15, "hand": 1.15}
"""Besides, where they are set anew: simulated annotators, of the same difference's other half, lie
off by so much more at the arms than is said with that factor."""
_SET_ANEW: Final[float] = 0.003
"""Body heights of mean jitter from which points without confidence are taken to be set anew in
every frame, by hand or by an estimator; annotated swings show 0.004 to 0.007."""
_COMPUTED: Final[float] = 0.75
"""The factor where points without confidence don't jitter at all: computed from a motion, they are
no estimator's, but the motion's own joints lie off too (a judgement)."""


class PoseError(NamedTuple):
    """How far the points of a clip are off.

    Attributes
    ----------
    points : array of shape (n_points,)
        One standard deviation on one axis in body heights, for the swing as a whole: a point that
        is hidden half of the time is worse than one that is always seen.
    smoothed : float
        How far a source that tells its confidence smooths its points, from 0, each frame's found
        anew, to 1; 0 where it tells none.
    """

    points: FloatArray
    smoothed: float


def pose_error(conditioned: Conditioned, scale: float) -> PoseError:
    """How far the conditioned points are off, and how far their source smooths them.

    The jitter and the steady or slowly drifting error of a source of keypoints, which no filter
    shows, add as variances. All of the jitter, though the filter takes some away: a source that
    jitters more drifts more too. Jitter shows a part of the error; of a source that smooths it away
    the legs may show more, once it is known where the swing is
    (``events/normalized/unsteady_legs.py``).

    Parameters
    ----------
    scale : float
        Body height in the unit of ``conditioned.points``. Its confidence is all 1 where the source
        tells none.
    """
    raw_jitter = conditioned.noise / scale
    jitter = np.where(np.isnan(raw_jitter), 0.0, raw_jitter)
    if ((conditioned.confidence == 1.0) | ~conditioned.observed).all():
        return PoseError(np.hypot(jitter, _STEADY_ERROR * _untold(raw_jitter)), smoothed=0.0)
    anew = _found_anew(raw_jitter)
    steady = _STEADY_ERROR * (_IF_SMOOTHED + anew * (_IF_ANEW - _IF_SMOOTHED))
    more = 1.0 + anew * (_IF_JITTERY - 1.0)
    steady *= _doubt(conditioned.confidence, conditioned.observed)
    return PoseError(np.hypot(more * jitter, steady), smoothed=1.0 - anew)


def sure_error(point: str) -> float:
    """Body heights on one axis by which a point is off that its source is sure of."""
    return _SURE.get(joint_of(point), _OTHER)


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


def _untold(raw_jitter: FloatArray) -> FloatArray:
    """Factors on the error of sure points where no confidence is told, shape (n_points,)."""
    shown = raw_jitter[np.isfinite(raw_jitter)]
    jitter = float(shown.mean()) if shown.size else 0.0
    marked = min(jitter / _SET_ANEW, 1.0)
    return np.asarray(_COMPUTED + (_UNTOLD * _IF_MARKED - _COMPUTED) * marked)


def _found_anew(raw_jitter: FloatArray) -> float:
    """How far the body's points are found anew in each frame, from 0, smoothed, to 1."""
    shown = raw_jitter[_BODY & np.isfinite(raw_jitter)]
    return float(np.interp(np.median(shown), _STILL, (0.0, 1.0))) if shown.size else 0.0


def _doubt(confidence: FloatArray, observed: BoolArray) -> FloatArray:
    """Factor on the error of sure points, root mean square over frames, shape (n_points,)."""
    count = np.add.reduce(observed, dtype=np.intp)
    ever = count.nonzero()[0]
    factor = unsureness(confidence.take(ever, axis=1))
    total = np.add.reduce(factor * factor * observed.take(ever, axis=1))
    doubt = np.ones(len(count))
    doubt[ever] = np.sqrt(total / count[ever])
    return doubt


def _by_joint(told: Mapping[str, float], otherwise: float = 1.0) -> FloatArray:
    """What is told by joint, of either side, as one number of each point."""
    return np.array([told.get(joint_of(name), otherwise) for name in ANATOMICAL])


_BODY: Final[BoolArray] = np.array([name not in CLUB_POINTS for name in ANATOMICAL])
"""Which points are the body's; those of the club are found by other means."""
_IF_SMOOTHED: Final = _by_joint(_SMOOTHED)
_IF_MARKED: Final = _by_joint(_MARKED)
_IF_ANEW: Final = np.where(_BODY, _FRAME_BY_FRAME, 1.0)
_IF_JITTERY: Final = np.where(_BODY, _DRIFTS_LIKE_JITTER, 1.0)
_STEADY_ERROR: Final = _by_joint(_SURE, _OTHER)
