"""Finding the golf swings in a clip, before anything is known of view or handedness.

A golf swing is told from other motion by what both hands do together: they stay on the
club, fall from a height to the height of the hips, and rise again without stopping.
The limits below are wide bounds on human golf swings (common practice), not fitted to
any data set.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.signal import find_peaks

from service.analysis.events.landmark_paths import Tracks
from service.analysis.types import FloatArray, Intent, Reason

LEAST_FALL: Final[float] = 0.08
"""Body heights the hands fall in the shortest swing that counts; a waggle falls less."""
HANDS_TOGETHER: Final[float] = 0.13
"""Body heights between the wrists, at most, while both hands are on the club."""
_PROMINENCE: Final[float] = 0.06
"""Body heights by which a high or low of the hands must stand out from its surroundings."""
_LONGEST_FALL: Final[dict[Intent, float]] = {Intent.FULL_SPEED: 1.0, Intent.REHEARSAL: 5.0}
_SHORTEST_FALL: Final[float] = 0.08
_HIGHEST_LOW_POINT: Final[float] = 0.30
"""Body heights above the hips at which the hands may pass through the low point."""
_LEAST_DROP_BELOW_SHOULDERS: Final[float] = 0.10
_LEAST_TRUNK: Final[float] = 0.10
"""Body heights by which the shoulders stand above the hips, bent over the ball or not."""
_MOSTLY: Final[float] = 0.8
_MOST_HIP_TRAVEL: Final[float] = 0.25
_LONGEST_DWELL: Final[float] = 2.0
"""Time near the low point, as a share of the time of the fall: a swing does not stop there."""
_EDGE: Final[float] = 0.10
"""Seconds from the end of the clip within which a missing rise is put down to the cut."""
_NEARLY_AS_FAST: Final[float] = 0.85


@dataclass(frozen=True)
class Downswing:
    """A fall of the hands that looks like a golf downswing, by frame indices.

    ``start`` is the last low of the hands before the top, ``end`` the high after the
    low point; either may be the clip's edge. ``low`` is ``None`` when the clip stops
    before the hands reach their low point.
    """

    start: int
    top: int
    low: int | None
    end: int
    peak_speed: float


def find_downswings(tracks: Tracks, intent: Intent) -> tuple[Downswing, ...]:
    """Every fall of the hands in the clip that looks like a golf swing, in time order."""
    extremes = _extremes(tracks.height)
    found = []
    for k in range(len(extremes) - 1):
        if tracks.height[extremes[k]] > tracks.height[extremes[k + 1]]:
            candidate = _candidate(tracks, extremes, k, intent)
            if candidate is not None:
                found.append(candidate)
    return tuple(found)


def choose(swings: tuple[Downswing, ...], intent: Intent) -> Downswing:
    """The swing to analyse: the last of those that are the player's best effort.

    Practice swings come before the real one and are seldom as fast, so at full speed it
    is the last swing whose hands are nearly as fast as the fastest; of rehearsals, which
    are slow on purpose, it is the last.
    """
    if intent is Intent.REHEARSAL:
        return swings[-1]
    fastest = max(s.peak_speed for s in swings)
    return next(s for s in reversed(swings) if s.peak_speed >= _NEARLY_AS_FAST * fastest)


def why_none(tracks: Tracks) -> Reason:
    """The reason why a clip holds no swing, in words for the person who sent it."""
    height = tracks.height
    if np.isnan(height).mean() > 0.5:
        return Reason(
            "hands_or_hips_not_seen",
            "The wrists or hips are missing in more than half of the frames, so no swing can be "
            "looked for. Send clips in which both stay in the picture.",
        )
    if np.nanmax(height) - np.nanmin(height) < LEAST_FALL:
        return Reason(
            "hands_stay_level",
            "The hands stay at one height, as when standing or walking; a swing lifts them and "
            "brings them down again.",
        )
    apart = np.nanmedian(tracks.hands_apart) if not np.isnan(tracks.hands_apart).all() else 0.0
    if apart > HANDS_TOGETHER:
        return Reason(
            "hands_apart",
            "The hands move apart from one another; in a golf swing both stay on the club.",
        )
    return Reason(
        "no_downswing",
        "The hands never fall together from a height to the hips and rise again, as they do in "
        "a golf swing.",
    )


def _extremes(height: FloatArray) -> list[int]:
    """Alternating highs and lows of the hands' height, the clip's ends included."""
    seen = np.flatnonzero(~np.isnan(height))
    if seen.size < 3:
        return []
    h = np.interp(np.arange(len(height)), seen, height[seen])
    highs, _ = find_peaks(h, prominence=_PROMINENCE)
    lows, _ = find_peaks(-h, prominence=_PROMINENCE)
    inner = sorted({*highs.tolist(), *lows.tolist()} - {int(seen[0]), int(seen[-1])})
    return _alternate([int(seen[0]), *inner, int(seen[-1])], h)


def _alternate(frames: list[int], height: FloatArray) -> list[int]:
    """Drop what lies on a slope, so that highs and lows take turns."""
    kept: list[int] = []
    for frame in frames:
        while (
            len(kept) >= 2
            and (height[kept[-1]] - height[kept[-2]]) * (height[frame] - height[kept[-1]]) >= 0
        ):
            kept.pop()
        kept.append(frame)
    return kept


def _candidate(tracks: Tracks, extremes: list[int], k: int, intent: Intent) -> Downswing | None:
    top, low = extremes[k], extremes[k + 1]
    start = extremes[k - 1] if k > 0 else top
    end = extremes[k + 2] if k + 2 < len(extremes) else low
    if not (
        _falls_like_a_swing(tracks, top, low, intent)
        and _hands_hold_on(tracks, start, low)
        and _stands_upright(tracks, start, low)
    ):
        return None
    low_seen = _rises_again(tracks, top, low, end)
    if low_seen is None:
        return None
    peak = float(np.nanmax(tracks.speed[top : low + 1]))
    return Downswing(start, top, low if low_seen else None, end, peak)


def _falls_like_a_swing(tracks: Tracks, top: int, low: int, intent: Intent) -> bool:
    height, times = tracks.height, tracks.times
    if np.isnan(height[top : low + 1]).any():
        return False
    fall = height[top] - height[low]
    # The hands may dwell at the top: the fall is timed from where it gets under way.
    under_way = top + int(np.flatnonzero(height[top : low + 1] >= height[top] - 0.05 * fall)[-1])
    duration = times[low] - times[under_way]
    drop = tracks.shoulders[low, 1] - tracks.hands[low, 1]
    travel = np.hypot(*(tracks.hips[low] - tracks.hips[top]))
    return bool(
        fall >= LEAST_FALL
        and _SHORTEST_FALL <= duration <= _LONGEST_FALL[intent]
        and height[low] <= _HIGHEST_LOW_POINT
        and not drop < _LEAST_DROP_BELOW_SHOULDERS
        and travel <= _MOST_HIP_TRAVEL
    )


def _stands_upright(tracks: Tracks, start: int, low: int) -> bool:
    trunk = (tracks.shoulders - tracks.hips)[start : low + 1, 1]
    return bool((trunk > _LEAST_TRUNK).mean() >= _MOSTLY)


def _hands_hold_on(tracks: Tracks, start: int, low: int) -> bool:
    apart = tracks.hands_apart[start : low + 1]
    if np.isnan(apart).all():
        return False
    return bool(
        np.nanmedian(apart) <= HANDS_TOGETHER and np.nanquantile(apart, 0.9) <= 1.6 * HANDS_TOGETHER
    )


def _rises_again(tracks: Tracks, top: int, low: int, end: int) -> bool | None:
    """True: it rises. False: the clip stops before it can. None: the hands stay down."""
    height, times = tracks.height, tracks.times
    fall = height[top] - height[low]
    quarter = height[low] + 0.25 * fall
    after = height[low : end + 1]
    above = np.flatnonzero(after > quarter)
    entered = top + int(np.flatnonzero(height[top : low + 1] > quarter)[-1])
    if above.size == 0:
        cut = times[-1] - times[low] <= _EDGE
        return False if cut else None
    dwell = times[low + int(above[0])] - times[entered]
    return True if dwell <= _LONGEST_DWELL * max(times[low] - times[top], 0.1) else None
