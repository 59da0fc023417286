"""What a pose estimator makes of the true image points: errors, gaps, swaps, confidence."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.analysis.pose.keypoint_error import ANNOTATOR_SPREAD
from service.analysis.pose.points import ANATOMICAL, CLUB_POINTS, N_POINTS, joint_of
from service.analysis.pose.stature import body_height
from service.analysis.types import FloatArray
from training.simulator.filming.estimating.common_errors import wander
from training.simulator.filming.estimating.measured_confidence import measured_confidence
from training.simulator.filming.estimating.measured_errors import ClipSizes, measured_error

_OTHER_POINTS: Final[dict[str, float]] = {
    "head": 0.035,
    "head_top": 0.060,
    "neck": 0.070,
    "mid_trunk": 0.100,
    "mid_hip": 0.090,
    "hand": 0.062,
    "heel": 0.089,
    "toe": 0.089,
    "small_toe": 0.089,
    "grip_end": 0.062,
    "grip": 0.050,
    "shaft_mid": 0.070,
    "clubhead": 0.090,
}
"""Points that COCO does not have take their like, from memory of how well they are found."""
_SIGMAS: Final[dict[str, float]] = {**ANNOTATOR_SPREAD, **_OTHER_POINTS}
SIGMA: Final[FloatArray] = np.array([_SIGMAS[joint_of(name)] for name in ANATOMICAL])

_MEMORY_SECONDS: Final[float] = 0.08
"""After which an error that wanders has fallen to 1/e."""
_WHITE_SHARE: Final[float] = 0.35
"""Share of the variance of errors that is drawn anew in each frame."""
_AREA_OF_BOX: Final[float] = 0.53
"""Share of the box around the joints that the person covers."""
_BLUR_SPEED: Final[float] = 2.5
_MOST_BLUR: Final[float] = 4.0
"""Person's sizes a second at which errors are 1.4 times those at rest, and by how much they grow at
most."""
_HIDDEN_WORSE: Final[float] = 2.5
"""Factor on the error of a point behind the trunk."""
_SWAP_SECONDS: Final[float] = 0.06
_GAP_SECONDS: Final[float] = 0.05
"""How long sides are exchanged, and a point is lost, on average."""
_HAND_SECONDS: Final[float] = 0.8
"""In which a camera held by hand wanders."""
_HANDS_DIFFER: Final[float] = 0.6
"""Spread of the logarithm of how unsteady hands are (a judgement)."""
_TRUNK = tuple(
    ANATOMICAL.index(n) for n in ("left_shoulder", "right_shoulder", "right_hip", "left_hip")
)
_LIMBS = (("elbow", "wrist", "hand"), ("knee", "ankle", "heel", "toe", "small_toe"))
_ARM_POINTS = tuple(
    ANATOMICAL.index(f"{side}_{joint}")
    for side in ("left", "right")
    for joint in ("elbow", "wrist", "hand")
)
_CLUB_INDEX = tuple(ANATOMICAL.index(name) for name in CLUB_POINTS)
_BODY_INDEX = [i for i in range(N_POINTS) if i not in _CLUB_INDEX]


@dataclass(frozen=True)
class EstimatorNoise:
    """How a pose estimator errs.

    Attributes
    ----------
    level : float
        Error at rest as a share of the spread of human annotators (the COCO keypoint
        sigmas times the root of the person's area); 0.25 is a good estimator.
    steady : float
        How far from our joint the estimator puts each point all through the clip, in the same
        unit: every estimator has its own notion of where a hip or a shoulder is.
    swaps : float
        Left-right swaps of the arms or the legs, how often a second.
    gaps : float
        Losses of a point, how often a second and point; club points, at speed, more often.
    club : bool
        Whether the estimator finds the club at all.
    measured : float
        Errors of a real estimator on golf swings, in units of what was measured
        (:mod:`training.simulator.filming.estimating.measured_errors`): steady and slowly drifting,
        arms drawn to the trunk and lost behind it. Confidences are then that estimator's too: they
        tell what is hidden more than what is wrong. ``level`` and ``steady`` are then the club's
        alone.
    told : bool
        Whether confidence is told; if not, it is 1 for whatever is given. With ``measured``, the
        jitter is then that of people who mark each frame anew.
    lag : float
        Seconds by which a smoothing that knows only the past follows the motion.
    held : float
        Body heights by which the picture wanders as a camera held by hand does, one standard
        deviation on one axis in the middle clip; 0 on a tripod.
    """

    level: float = 0.25
    steady: float = 0.0
    swaps: float = 0.05
    gaps: float = 0.03
    club: bool = True
    measured: float = 0.0
    told: bool = True
    lag: float = 0.0
    held: float = 0.0

    def observe(
        self, pixels: FloatArray, depth: FloatArray, times: FloatArray, rng: np.random.Generator
    ) -> tuple[FloatArray, FloatArray]:
        """Points and confidence as the estimator reports them.

        Parameters
        ----------
        pixels : array of shape (n_frames, n_points, 2)
            True image points.
        depth : array of shape (n_frames, n_points)
            Their distance from the camera.
        times : array of shape (n_frames,)
            Seconds.

        Returns
        -------
        points : array of shape (n_frames, n_points, 2)
            NaN where the estimator reports none.
        confidence : array of shape (n_frames, n_points)
            0 where it reports none.
        """
        size = _person_size(pixels)
        spread = self.level * SIGMA * size * _difficulty(pixels, depth, times, size)
        error = spread[..., None] * _wandering(pixels.shape, times, rng)
        error += self.steady * size * SIGMA[:, None] * rng.standard_normal(pixels.shape[1:])
        off = np.linalg.norm(error, axis=-1)
        confidence = _confidence(off / (2.0 * SIGMA * size), spread / (SIGMA * size), rng)
        if self.measured > 0.0:
            sizes = ClipSizes.drawn(rng)
            off = measured_error(pixels, depth, times, sizes, rng, by_hand=not self.told)
            sure = measured_confidence(off, pixels, depth, times, sizes, rng)
            error[:, _BODY_INDEX] = self.measured * off[:, _BODY_INDEX]
            confidence[:, _BODY_INDEX] = sure[:, _BODY_INDEX]
        points = _delayed(pixels, times, self.lag) + error
        if self.held > 0.0:
            points += self.held * _sway(pixels, times, rng)
        self._swap(points, confidence, times, rng)
        lost = np.isnan(points[..., 0]) | self._gaps(pixels, times, size, rng)
        if not self.club:
            lost[:, _CLUB_INDEX] = True
        points[lost] = np.nan
        return points, np.where(lost, 0.0, confidence if self.told else 1.0)

    def _swap(
        self,
        points: FloatArray,
        confidence: FloatArray,
        times: FloatArray,
        rng: np.random.Generator,
    ) -> None:
        span = times[-1] - times[0]
        for limb in _LIMBS:
            left = [ANATOMICAL.index(f"left_{joint}") for joint in limb]
            right = [ANATOMICAL.index(f"right_{joint}") for joint in limb]
            for _ in range(rng.poisson(self.swaps * span)):
                start = rng.uniform(times[0], times[-1])
                frames = _during(times, start, rng.exponential(_SWAP_SECONDS))
                both, other = (frames[:, None], left + right), (frames[:, None], right + left)
                points[both] = points[other]
                confidence[both] = 0.7 * confidence[other]

    def _gaps(
        self, pixels: FloatArray, times: FloatArray, size: float, rng: np.random.Generator
    ) -> NDArray[np.bool_]:
        lost = np.zeros(pixels.shape[:2], dtype=bool)
        span = times[-1] - times[0]
        for point in range(N_POINTS):
            for _ in range(rng.poisson(self.gaps * span)):
                start = rng.uniform(times[0], times[-1])
                lost[_during(times, start, rng.exponential(_GAP_SECONDS)), point] = True
        if self.gaps > 0:
            speed = _speed(pixels, times)[:, _CLUB_INDEX] / size
            chance = np.clip(self.gaps * speed, 0.0, 0.6)
            lost[:, _CLUB_INDEX] |= rng.random(chance.shape) < chance
        return lost


LIKE_AN_ESTIMATOR: Final = EstimatorNoise(
    level=0.02, swaps=0.12, gaps=0.0, club=False, measured=1.0, held=0.009
)
"""A widely used open estimator of 33 landmarks on small pictures of 30 frames a second, held by
hand: it loses no point and knows no club; legs and arms change sides 0.25 times a second
together. Annotators and estimator alike see both ankles go together by 1 to 1.5 % of body
height."""
LIKE_AN_ANNOTATOR: Final = EstimatorNoise(
    level=0.02, swaps=0.0, gaps=0.0, club=False, measured=1.0, told=False, held=0.009
)
"""People who mark joints frame by frame; their part of the difference is taken to be as large as
the estimator's."""


def _delayed(pixels: FloatArray, times: FloatArray, lag: float) -> FloatArray:
    """Exponentially smoothed with no knowledge of the future, shape as ``pixels``."""
    from scipy.signal import lfilter  # takes longer to import than all else here

    if lag <= 0.0 or times.size < 2:
        return pixels
    keep = float(np.exp(-(times[-1] - times[0]) / (times.size - 1) / lag))
    start = keep * pixels[:1]
    delayed, _ = lfilter([1.0 - keep], [1.0, -keep], pixels, axis=0, zi=start)
    return np.asarray(delayed)


def _sway(pixels: FloatArray, times: FloatArray, rng: np.random.Generator) -> FloatArray:
    """Way of a picture held by hand, pixels, shape (n_frames, 1, 2)."""
    unsteady = body_height(pixels) * np.exp(_HANDS_DIFFER * rng.standard_normal())
    return np.asarray(unsteady * wander((len(times), 1, 2), times, _HAND_SECONDS, rng))


def _person_size(pixels: FloatArray) -> float:
    """Root of the person's area in pixels, from the typical box around the joints."""
    body = np.delete(pixels, _CLUB_INDEX, axis=1)
    body = body[:, ~np.isnan(body).any(axis=(0, 2))]
    box = np.median(np.ptp(body, axis=1), axis=0)
    return float(np.sqrt(_AREA_OF_BOX * box[0] * box[1]))


def _speed(pixels: FloatArray, times: FloatArray) -> FloatArray:
    """Image speed of every point, pixels a second, shape (n_frames, n_points)."""
    if times.size < 2:
        return np.zeros(pixels.shape[:2])
    speed: FloatArray = np.linalg.norm(np.gradient(pixels, times, axis=0), axis=-1)
    return speed


def _difficulty(
    pixels: FloatArray, depth: FloatArray, times: FloatArray, size: float
) -> FloatArray:
    """Factor on the error: 1 at rest and in sight, more in fast motion or behind the trunk."""
    blur = np.hypot(1.0, _speed(pixels, times) / (_BLUR_SPEED * size))
    factor = np.minimum(blur, _MOST_BLUR)
    for point in _ARM_POINTS:
        hidden = _behind_trunk(pixels, depth, point)
        factor[hidden, point] *= _HIDDEN_WORSE
    return factor


def _behind_trunk(pixels: FloatArray, depth: FloatArray, point: int) -> NDArray[np.bool_]:
    """Frames in which a point lies within the trunk's outline and farther from the camera."""
    corners = pixels[:, _TRUNK]
    sides = np.roll(corners, -1, axis=1) - corners
    to_point = pixels[:, [point]] - corners
    turn = sides[..., 0] * to_point[..., 1] - sides[..., 1] * to_point[..., 0]
    inside = (turn > 0).all(axis=1) | (turn < 0).all(axis=1)
    hidden: NDArray[np.bool_] = inside & (depth[:, point] > depth[:, _TRUNK].mean(axis=1))
    return hidden


def _wandering(shape: tuple[int, ...], times: FloatArray, rng: np.random.Generator) -> FloatArray:
    """Unit-variance errors, part white and part wandering slowly (AR(1) in time)."""
    from scipy.signal import lfilter  # takes longer to import than all else here

    white = rng.standard_normal(shape)
    shocks = rng.standard_normal(shape)
    step = (times[-1] - times[0]) / max(times.size - 1, 1)
    keep = np.exp(-step / _MEMORY_SECONDS)
    shocks[1:] *= np.sqrt(1.0 - keep**2)
    slow = lfilter([1.0], [1.0, -keep], shocks, axis=0)
    mixed: FloatArray = np.sqrt(_WHITE_SHARE) * white + np.sqrt(1.0 - _WHITE_SHARE) * slow
    return mixed


def _confidence(
    relative_error: FloatArray, relative_spread: FloatArray, rng: np.random.Generator
) -> FloatArray:
    """Confidence that falls with the error at hand and with how hard the point is to find.

    The first factor is the keypoint similarity of COCO, exp(-e^2 / 2).
    """
    similarity = np.exp(-0.5 * relative_error**2)
    sure = 1.0 / (1.0 + (0.7 * relative_spread) ** 2)
    noisy = 0.97 * similarity * sure + rng.normal(0.0, 0.02, relative_error.shape)
    return np.clip(noisy, 0.02, 1.0)


def _during(times: FloatArray, start: float, seconds: float) -> NDArray[np.intp]:
    """Frames within a stretch of time, at least one."""
    first = int(np.searchsorted(times, start))
    last = max(first + 1, int(np.searchsorted(times, start + seconds)))
    return np.arange(min(first, times.size - 1), min(last, times.size))
