"""What phones, apps and pose libraries do on the way from a film to its places, one way or another:
frames lost in bursts and out of order, crops that follow, joints placed by other words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Final

import numpy as np
from scipy.ndimage import uniform_filter1d

from service.analysis.pose.points import CLUB_POINTS, Point, swap_sides
from service.analysis.types import Handedness, SwingAnalysis, SwingRecording
from tests.reference.perturbations.change import (
    ARMS,
    FEET,
    SIDED,
    Change,
    Film,
    Perturbation,
    box,
    exchanged,
    frames,
    height,
    losing,
    place,
    plays_left,
    step,
)

_HIPS: Final = [Point.LEAD_HIP, Point.TRAIL_HIP]
_SHOULDERS: Final = [Point.LEAD_SHOULDER, Point.TRAIL_SHOULDER]
_ELBOWS: Final = [Point.LEAD_ELBOW, Point.TRAIL_ELBOW]
_WRISTS: Final = [Point.LEAD_WRIST, Point.TRAIL_WRIST]
_CLUB: Final = [Point[name.upper()] for name in CLUB_POINTS]
_FAST: Final = 3.0
"""Body heights a second from which hands blur."""


def _bursts(count: int, length: int, *, told: bool) -> Change:
    """So many times some frames on end are lacking; the times say so or go on evenly."""

    def change(seen: SwingRecording, _: SwingAnalysis, rng: np.random.Generator) -> Film:
        lost = np.zeros(len(seen.times), dtype=bool)
        for first in rng.integers(1, max(2, len(lost) - length), count):
            lost[first : first + length] = True
        kept = np.flatnonzero(~lost)
        left = frames(seen, kept)
        even = seen.times[: len(kept)]
        return Film(left if told else replace(left, times=even), seen.times[kept])

    return change


def _rate_falls(number: int) -> Change:
    """From a position on every second frame alone, as in poor light, told as even."""

    def change(seen: SwingRecording, said: SwingAnalysis, _: np.random.Generator) -> Film:
        begin = place(seen, said, number)
        kept = np.r_[np.arange(begin), np.arange(begin, len(seen.times), 2)]
        left = frames(seen, kept)
        return Film(replace(left, times=seen.times[: len(kept)]), seen.times[kept])

    return change


def _out_of_order(share: float) -> Change:
    """Now and then two neighbouring frames come in the wrong order."""

    def change(seen: SwingRecording, _: SwingAnalysis, rng: np.random.Generator) -> Film:
        order = np.arange(len(seen.times))
        for k in np.flatnonzero(rng.random(len(order) - 1) < share):
            order[k : k + 2] = order[k : k + 2][::-1]
        return Film(replace(frames(seen, order), times=seen.times), seen.times[order])

    return change


def _backwards(seen: SwingRecording, _: SwingAnalysis, __: np.random.Generator) -> Film:
    """The last frame first."""
    order = np.arange(len(seen.times))[::-1]
    return Film(replace(frames(seen, order), times=seen.times), seen.times[order])


def _rolling(seconds: float) -> Change:
    """Lower lines of the picture are read later, by so many seconds a body height."""

    def change(seen: SwingRecording, _: SwingAnalysis, __: np.random.Generator) -> SwingRecording:
        points = seen.points.copy()
        usual = np.nanmedian(seen.points[..., 1])
        late = seconds * (seen.points[..., 1] - usual) / height(seen)
        for joint in range(points.shape[1]):
            told = np.isfinite(seen.points[:, joint, 0])
            if told.all():
                at = np.clip(seen.times + late[:, joint], *seen.times[[0, -1]])
                for axis in (0, 1):
                    points[:, joint, axis] = np.interp(at, seen.times, seen.points[:, joint, axis])
        return replace(seen, points=points)

    return change


def _following(seconds: float) -> Change:
    """Places in a crop that follows the middle of the hips, as slowly as a mean of that long."""

    def change(seen: SwingRecording, _: SwingAnalysis, __: np.random.Generator) -> SwingRecording:
        hips = np.nanmean(seen.points[:, _HIPS], axis=1)
        at = np.arange(len(hips))
        told = np.isfinite(hips[:, 0])
        if not told.any():
            return seen
        filled = np.column_stack([np.interp(at, at[told], axis[told]) for axis in hips.T])
        follows = uniform_filter1d(filled, max(1, int(seconds / step(seen))), axis=0)
        return replace(seen, points=seen.points - follows[:, None])

    return change


def _own_box(seen: SwingRecording, _: SwingAnalysis, __: np.random.Generator) -> SwingRecording:
    """Each axis in shares of each frame's own bounding box, told as square."""
    least, largest = box(seen)
    return replace(seen, points=256.0 * (seen.points - least) / (largest - least))


def _in_trunks(seen: SwingRecording, _: SwingAnalysis, __: np.random.Generator) -> SwingRecording:
    """Places from the middle of the picture in lengths of each frame's trunk."""
    trunk = np.nanmean(seen.points[:, _SHOULDERS], axis=1) - np.nanmean(
        seen.points[:, _HIPS], axis=1
    )
    length = np.hypot(*trunk.T)[:, None, None]
    middle = np.nanmedian(seen.points, axis=(0, 1))
    return replace(seen, points=256.0 * (seen.points - middle) / length)


def _upwards(seen: SwingRecording, _: SwingAnalysis, __: np.random.Generator) -> SwingRecording:
    return replace(seen, points=seen.points * np.array([1.0, -1.0]))


def _from_selfie(
    seen: SwingRecording, said: SwingAnalysis, _: np.random.Generator
) -> SwingRecording:
    """Mirrored, sides named as they are seen, and the hand that the player truly plays told."""
    hand = said.handedness.value if said.handedness else Handedness.RIGHT
    points, confidence = swap_sides(seen.points), swap_sides(seen.confidence)
    return replace(
        seen, points=points * np.array([-1.0, 1.0]), confidence=confidence, handedness=hand
    )


def _exchanged_from(number: int, joints: list[Point]) -> Change:
    """Left and right of some joints exchanged from a position on."""

    def change(seen: SwingRecording, said: SwingAnalysis, _: np.random.Generator) -> SwingRecording:
        late = slice(place(seen, said, number), None)
        return exchanged(seen, joints, late)

    return change


def _hidden_from(number: int, joints: list[Point], off: float | None) -> Change:
    """From a position on something hides some joints: lost, or told as surely ``off`` elsewhere."""

    def change(
        seen: SwingRecording, said: SwingAnalysis, rng: np.random.Generator
    ) -> SwingRecording:
        late = slice(place(seen, said, number), None)
        struck = np.zeros(seen.confidence.shape, dtype=bool)
        struck[late, joints] = True
        if off is None:
            return losing(seen, struck)
        points = seen.points.copy()
        points[late, joints] += off * height(seen) * rng.normal(size=(len(joints), 2))
        return replace(seen, points=points)

    return change


def _behind_the_body(
    seen: SwingRecording, said: SwingAnalysis, rng: np.random.Generator
) -> SwingRecording:
    """About the top the trail arm is hidden and guessed along the lead one, the club lost."""
    top = place(seen, said, 4)
    about = slice(max(0, top - int(0.2 / step(seen))), top + int(0.1 / step(seen)) + 1)
    struck = np.zeros(seen.confidence.shape, dtype=bool)
    struck[about, _CLUB] = True
    hidden = losing(seen, struck)
    points = hidden.points.copy()
    lead, trail = (1, 0) if plays_left(said) else (0, 1)
    for joints in (_ELBOWS, _WRISTS):
        off = rng.normal(0.0, 0.02 * height(seen), points[about, joints[lead]].shape)
        points[about, joints[trail]] = points[about, joints[lead]] + off
    return replace(hidden, points=points)


def _wrists_at_the_fingers(
    seen: SwingRecording, _: SwingAnalysis, __: np.random.Generator
) -> SwingRecording:
    """Wrists a fifth of the forearm farther along it, as where hands are told for them."""
    points = seen.points.copy()
    points[:, _WRISTS] += 0.2 * (points[:, _WRISTS] - points[:, _ELBOWS])
    return replace(seen, points=points)


def _hips_at_the_waist(
    seen: SwingRecording, _: SwingAnalysis, __: np.random.Generator
) -> SwingRecording:
    """Hips a fifth of the way to the shoulders, as where the waist is told for them."""
    points = seen.points.copy()
    points[:, _HIPS] += 0.2 * (points[:, _SHOULDERS] - points[:, _HIPS])
    return replace(seen, points=points)


def _blurred(seen: SwingRecording, _: SwingAnalysis, __: np.random.Generator) -> SwingRecording:
    """Fast hands blur, and are guessed halfway from the elbow."""
    points, sure = seen.points.copy(), seen.confidence.copy()
    for wrist, elbow in zip(_WRISTS, _ELBOWS, strict=True):
        pace = np.hypot(*np.gradient(seen.points[:, wrist], seen.times, axis=0).T) / height(seen)
        fast = pace > _FAST
        points[fast, wrist] = 0.5 * (seen.points[fast, wrist] + seen.points[fast, elbow])
        sure[fast, wrist] = np.minimum(sure[fast, wrist], 0.5)
    return replace(seen, points=points, confidence=sure)


def _foot_at_the_ball(
    seen: SwingRecording, said: SwingAnalysis, _: np.random.Generator
) -> SwingRecording:
    """From P5 to P7 the ball is taken for the lead ankle: a sixth of the way to the other foot and
    beside it."""
    points = seen.points.copy()
    ankles = [Point.LEAD_ANKLE, Point.TRAIL_ANKLE]
    lead, trail = reversed(ankles) if plays_left(said) else ankles
    first, last = place(seen, said, 5), place(seen, said, 7)
    inward = points[first:last, trail] - points[first:last, lead]
    points[first:last, lead] += inward / 6 + height(seen) * np.array([0.0, 0.1])
    return replace(seen, points=points)


def _inverted(seen: SwingRecording, _: SwingAnalysis, __: np.random.Generator) -> SwingRecording:
    """Confidences told as errors, from 0 for sure; half as spread, so that not all is lost."""
    told = np.isfinite(seen.points[..., 0])
    return replace(seen, confidence=np.where(told, 1.0 - 0.7 * seen.confidence, 0.0))


def _fitted(seen: SwingRecording, _: SwingAnalysis, __: np.random.Generator) -> SwingRecording:
    """Places on the cells of a map of 64 by 48 over the body's piece of each frame."""
    least, largest = box(seen)
    cell = 1.25 * np.maximum.reduce(largest - least, axis=2, keepdims=True) / 64.0
    return replace(seen, points=least + np.round((seen.points - least) / cell) * cell)


HANDED_ON: Final[Mapping[str, Perturbation]] = {
    "four bursts of four frames lacking": Perturbation(_bursts(4, 4, told=False)),
    "four bursts of four lacking, told": Perturbation(_bursts(4, 4, told=True)),
    "half the rate from P4 on": Perturbation(_rate_falls(4)),
    "frames out of order now and then": Perturbation(_out_of_order(0.1)),
    "played backwards": Perturbation(_backwards),
    "lines read 20 ms late": Perturbation(_rolling(0.02)),
    "a crop that follows in 0.3 s": Perturbation(_following(0.3)),
    "a crop that follows in 1 s": Perturbation(_following(1.0)),
    "each axis by its own box": Perturbation(_own_box),
    "in lengths of each frame's trunk": Perturbation(_in_trunks),
    "y upwards": Perturbation(_upwards),
    "selfie, hand told": Perturbation(_from_selfie),
    "sides exchanged from P8 on": Perturbation(_exchanged_from(8, SIDED)),
    "arms exchanged from P4 on": Perturbation(_exchanged_from(4, ARMS)),
    "feet hidden from P5 on": Perturbation(_hidden_from(5, FEET, None)),
    "feet elsewhere from P5 on, 4 %": Perturbation(_hidden_from(5, FEET, 0.04)),
    "trail arm behind the body at the top": Perturbation(_behind_the_body),
    "wrists at the fingers": Perturbation(_wrists_at_the_fingers),
    "hips at the waist": Perturbation(_hips_at_the_waist),
    "fast hands blurred": Perturbation(_blurred),
    "ball for the lead ankle, P5 to P7": Perturbation(_foot_at_the_ball),
    "confidences inverted": Perturbation(_inverted),
    "on the cells of a map": Perturbation(_fitted),
}
