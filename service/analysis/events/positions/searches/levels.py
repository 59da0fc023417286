"""P2, P3, P5, P6, P8 and P9: where an arm or the shaft is level."""

from __future__ import annotations

from collections.abc import Mapping
from math import hypot, isnan
from typing import Final

import numpy as np

from service.analysis.events.positions.searches.scene import Found, Scene
from service.analysis.pose.points import Point
from service.analysis.types import FloatArray, View

_HANDS_AT_SHAFT_PARALLEL: Final[dict[int, float]] = {2: 0.13, 6: 0.17, 8: 0.47}
"""Height of the hands at P2, P6, P8 as a share of the way from their address or impact
height up to the height at which the arm is parallel; from simulated swings."""
_CROSSING: Final[float] = 0.004
"""Uncertainty in seconds of a crossing however steep: the smoothing of a fast movement."""
_ARM_ERROR: Final[Mapping[View, float]] = {View.FACE_ON: 0.017, View.DOWN_THE_LINE: 0.027}
_SHAFT_ERROR: Final[Mapping[View, float]] = {View.FACE_ON: 0.030, View.DOWN_THE_LINE: 0.050}
"""One standard deviation of the difference in height of the ends of an arm and of the shaft, body
heights: what four makes of simulated golfers leave in slow swings, cameras at 3.2 to 6 m."""
_ENDS_ERROR: Final[Mapping[View, float]] = {View.FACE_ON: 1.05, View.DOWN_THE_LINE: 1.55}
"""That of an arm as a multiple of how unsure its ends are together: so large that it is the same in
usual footage. Of the fifth of all clips whose ends are surest 80 % of P3 were within 0.65 of an
uncertainty that is the same in all, of that whose are least sure within 1.3."""
_SAG: Final[Mapping[int, float]] = {2: 0.045, 3: -0.003, 6: 0.040, 9: 0.010}
"""Down the line an arm or a shaft points at the camera or away from it, so that one end is nearer.
Body heights by which the end that should be level looks lower than it is, for a camera hip-high to
chest-high at 3.2 to 6 m: what is nearer than the rest and below the camera looks lower (the shaft
at P2 and P6), what is nearer and above it higher (P3), what is farther and above it lower (P9).
Sizes as in simulated swings, that at P3 in the middle of golfers of seven kinds (-0.006 to 0.003);
1.1 m high and 4.5 m away would make them 0.05, -0.02, 0.05, 0.02 for rods straight along the line
of sight."""
_MAY_BE_LEVEL: Final[float] = 3.0
"""Such errors from level up to which an arm or a shaft may truly be level: so far from there it is
looked how fast it goes."""
_BENT: Final[int] = 5
"""Samples from which that is told by a bent line, as arms slow down on their way; by fewer jitter
would bend it."""
_PACED: Final[int] = 3
"""Frames, at least, in which a shaft is seen on either side of where it is not."""
_PACED_OVER: Final[float] = 0.5
"""Share of the time for which it is not seen over which its pace is told on either side;
judgement."""
_LONGEST_UNSEEN: Final[float] = 0.6
"""Share of the time from P1 to P3 for which it may be unseen; judgement."""
_UNSEEN: Final[float] = 0.06
"""Share of that time by which the moment is unsure: of 53 shafts of a golfer who is filmed upright
nine in ten are off by less than a tenth."""
_REAL: Final[float] = 1e-9
_DIGITS: Final[int] = 9
_ARMS: Final[Mapping[int, tuple[Point, Point]]] = {
    3: (Point.LEAD_SHOULDER, Point.LEAD_WRIST),
    5: (Point.LEAD_SHOULDER, Point.LEAD_WRIST),
    9: (Point.TRAIL_SHOULDER, Point.TRAIL_WRIST),
}
"""The arm that is parallel to the ground at a position."""
_BY_HANDS: Final[float] = 0.012
"""Uncertainty in seconds, beside that of a crossing, of an arm whose wrist is lost; simulated
swings."""


def arm_parallel(
    scene: Scene, number: int, first: float | None, last: float | None
) -> Found | None:
    """Where the arm that defines a position is level.

    Where its wrist is lost about that moment, both hands being on one handle, the height of the
    hands tells instead, and the position is inferred.
    """
    ends, sag, window = _ARMS[number], _sag(scene, number), scene.window(first, last)

    def level(height: FloatArray) -> Found | None:
        rising, late = number != 5, number == 3
        error = _arm_error(scene, ends)
        return crossing(scene, height + sag, window, rising=rising, last=late, error=error)

    seen = level(_arm_height(scene, *ends))
    if seen is not None:
        return seen
    told = level(_arm_height_by_hands(scene, *ends))
    if told is None:
        return None
    return Found(told.time, hypot(told.uncertainty, _BY_HANDS), inferred=True)


def _arm_error(scene: Scene, ends: tuple[Point, Point]) -> float:
    """One standard deviation of the difference in height of the ends of an arm, body heights."""
    unsure = hypot(*(scene.noise.item(end) for end in ends))
    return _ARM_ERROR[scene.view] if isnan(unsure) else _ENDS_ERROR[scene.view] * unsure


def shaft_parallel(scene: Scene, number: int, found: Mapping[int, Found | None]) -> Found | None:
    """Where the shaft is level, or where the hands are as high as they then usually are.

    Parameters
    ----------
    found
        The positions before and after it, by number.
    """
    before, after = {2: (1, 3), 6: (5, 7), 8: (7, 9)}[number]
    first, last = found[before], found[after]
    rising = number != 6
    if first is None and last is None:
        return None
    window = scene.window(first.time if first else None, last.time if last else None)
    by_club = None
    if scene.shaft_height is not None:
        by_club = crossing(
            scene,
            scene.shaft_height + _sag(scene, number),
            window,
            rising=rising,
            error=_SHAFT_ERROR[scene.view],
        )
        if by_club is None and number == 2:
            by_club = _level_unseen(scene, first, last, found[4])
    if by_club is not None or first is None or last is None:
        return by_club
    ends = np.interp([first.time, last.time], scene.tracks.times, scene.tracks.height)
    share = _HANDS_AT_SHAFT_PARALLEL[number]
    level = (
        ends[1] + (1 - share) * (ends[0] - ends[1])
        if rising
        else ends[0] + (1 - share) * (ends[1] - ends[0])
    )
    above = scene.tracks.height - level
    hands = crossing(scene, above, window, rising=rising, last=not rising)
    if hands is None:
        return None
    spread = hands.uncertainty + 0.12 * (last.time - first.time)
    return Found(hands.time, spread, inferred=True)


def _level_unseen(
    scene: Scene, first: Found | None, last: Found | None, top: Found | None
) -> Found | None:
    """When a shaft is level in the takeaway that is seen before and after, but not then: face on it
    reaches farthest to the side there, and out of an upright picture.

    Going back it turns evenly: a cubic curve leaves where it was last seen, and comes to where it
    is seen again, at the paces that it has there.
    """
    if first is None or last is None or top is None or scene.view is not View.FACE_ON:
        return None
    if scene.shaft_elevation is None:
        return None
    window = scene.window(first.time, top.time)
    clock, value = scene.tracks.times[window], scene.shaft_elevation[window]
    seen = (~np.isnan(value)).nonzero()[0]
    clock, value = clock[seen], value[seen]
    hits = ((value[:-1] < 0) & (value[1:] >= 0)).nonzero()[0]
    if hits.size != 1 or not _PACED <= hits[0] + 1 <= len(clock) - _PACED:
        return None
    k = int(hits[0])
    begin, end = float(clock[k]), float(clock[k + 1])
    gap = end - begin
    if begin > last.time or gap > _LONGEST_UNSEEN * (last.time - first.time):
        return None
    soon, late = clock.searchsorted([begin - _PACED_OVER * gap, end + _PACED_OVER * gap])
    before = slice(min(int(soon), k + 1 - _PACED), k + 1)
    after = slice(k + 1, max(int(late), k + 1 + _PACED))
    leaves, comes = (gap * _slope(clock[part], value[part]) for part in (before, after))
    share = _zero_of_cubic((float(value[k]), float(value[k + 1])), (leaves, comes))
    if share is None:
        return None
    return Found(begin + share * gap, hypot(0.1 * scene.frame, _CROSSING, _UNSEEN * gap))


def _slope(clock: FloatArray, value: FloatArray) -> float:
    """Of the straight line through some samples."""
    about = clock - clock.mean()
    return float(about.dot(value) / about.dot(about))


def _zero_of_cubic(ends: tuple[float, float], slopes: tuple[float, float]) -> float | None:
    """Where the cubic curve through two values, at 0 and 1, with the slopes there is zero; ``None``
    where it is in more places than one.

    >>> _zero_of_cubic((-1.0, 1.0), (2.0, 2.0))
    0.5
    >>> _zero_of_cubic((-1.0, 1.0), (40.0, 40.0)) is None
    True
    """
    begin, end = ends
    leaves, comes = slopes
    cubic = [2 * (begin - end) + leaves + comes, 3 * (end - begin) - 2 * leaves - comes]
    roots = np.roots([*cubic, leaves, begin])
    real = roots.real[np.abs(roots.imag) < _REAL]
    inside = real[(real >= 0.0) & (real <= 1.0)]
    return round(float(inside[0]), _DIGITS) if inside.size == 1 else None


def crossing(
    scene: Scene,
    signal: FloatArray,
    window: slice,
    *,
    rising: bool,
    last: bool = False,
    error: float | None = None,
) -> Found | None:
    """Time at which a signal passes zero, by the straight line between two samples.

    How sure it is hangs on how fast the signal goes there, told from all samples that may be of
    zero: of a slow one that jitters the two about a crossing are those that jitter sets far apart.

    Parameters
    ----------
    signal : array of shape (n_frames,)
    window : slice
        Frames in which it is looked for.
    rising, last : bool
        Whether it passes upward, and whether the last crossing counts rather than the first.
    error : float, optional
        One standard deviation of the signal, in its unit; an arm's where not given.
    """
    times, value = scene.tracks.times[window], signal[window] * (1.0 if rising else -1.0)
    hits = ((value[:-1] < 0) & (value[1:] >= 0)).nonzero()[0]
    if hits.size == 0:
        return None
    k = int(hits[-1] if last else hits[0])
    slope = (value[k + 1] - value[k]) / (times[k + 1] - times[k])
    time = float(times[k] - value[k] / slope)
    known = 0.1 * scene.frame + _CROSSING
    error = _ARM_ERROR[scene.view] if error is None else error
    pace = min(_pace(times - time, value, k, _MAY_BE_LEVEL * error), float(slope))
    return Found(time, hypot(known, error / pace))


def _pace(after: FloatArray, value: FloatArray, k: int, near_zero: float) -> float:
    """How fast a signal rises as it passes zero between samples ``k`` and ``k + 1``: the slope
    there of the line through all samples about these that are near zero, bent where they are
    enough.

    Infinite where it doesn't rise there. A sample that is missing ends them.

    Parameters
    ----------
    after : array of shape (n,)
        Seconds after the crossing.

    >>> after = np.arange(-4.5, 5.0) / 100
    >>> jitter = 0.009 * np.array([0, 0, 0, 0, -1, 1, 0, 0, 0, 0])
    >>> round(_pace(after, 0.2 * after + jitter, 4, 0.05), 2)
    0.21
    """
    near = np.abs(value) < near_zero  # of NaN it isn't
    before, beyond = (~near[: k + 1]).nonzero()[0], (~near[k + 1 :]).nonzero()[0]
    first = int(before[-1]) + 1 if before.size else 0
    last = k + 1 + int(beyond[0]) if beyond.size else len(value)
    some = slice(min(first, k), max(last, k + 2))
    after, value = after[some], value[some]
    duration = float(after[-1] - after[0])
    share = after / duration
    square = share * share
    n, x, xx = len(share), float(np.add.reduce(share)), float(np.add.reduce(square))
    y, xy = float(np.add.reduce(value)), float(share.dot(value))
    if n < _BENT:
        pace = (n * xy - x * y) / (n * xx - x * x)
    else:
        # By Cramer's rule: a general solver takes several times as long for so few numbers.
        xxx, xxxx = float(share.dot(square)), float(square.dot(square))
        xxy = float(square.dot(value))
        one, two, three = xx * xxxx - xxx * xxx, x * xxxx - xxx * xx, x * xxx - xx * xx
        whole = n * one - x * two + xx * three
        pace = n * (xy * xxxx - xxx * xxy) - y * two + xx * (x * xxy - xy * xx)
        pace /= whole
    return pace / duration if pace > 0.0 else float("inf")


def _sag(scene: Scene, number: int) -> float:
    """How much lower the far end of an arm or shaft looks than it is at a position."""
    return _SAG.get(number, 0.0) if scene.view is View.DOWN_THE_LINE else 0.0


def _arm_height(scene: Scene, shoulder: Point, wrist: Point) -> FloatArray:
    return np.asarray(scene.points[:, wrist, 1] - scene.points[:, shoulder, 1])


def _arm_height_by_hands(scene: Scene, shoulder: Point, wrist: Point) -> FloatArray:
    """The same where the wrist is lost, from the middle of the hands; shape (n_frames,).

    The wrist keeps its height against the hands, and the shoulder its way, from where it is seen
    to where it is seen again.
    """
    clock, hands = scene.tracks.times, scene.tracks.hands[:, 1]
    above = _bridged(clock, scene.points[:, wrist, 1] - hands)
    return hands + above - _bridged(clock, scene.points[:, shoulder, 1])


def _bridged(clock: FloatArray, values: FloatArray) -> FloatArray:
    """Values of shape (n_frames,) with straight lines over what is missing; NaN if all is."""
    seen = ~np.isnan(values)
    return np.interp(clock, clock[seen], values[seen]) if seen.any() else values
