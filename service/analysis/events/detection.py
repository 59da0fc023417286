"""Finding the golf swings in a clip, before anything is known of view or handedness.

Every fall of the hands from a height to about the hips, after which they rise again, is looked at;
:mod:`service.analysis.events.golf_likeness` tells golf from other actions. The limits below are
wide bounds on human golf swings (common practice), not fitted to any data set. They hold for films
played slow too, whose times tell nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf, isnan, log
from typing import Final

import numpy as np

from service.analysis.events.golf_likeness import Fall, fall_begins, log_odds, speaks_against
from service.analysis.events.landmark_paths import Tracks
from service.analysis.events.turning_points import turning_points
from service.analysis.pose.conditioning import CONFIDENCE_FLOOR
from service.analysis.types import FloatArray, Intent, Reason

LEAST_FALL: Final[float] = 0.08
"""Body heights the hands fall in the shortest swing that counts; a waggle falls less."""
HANDS_TOGETHER: Final[float] = 0.13
"""Body heights between the wrists, at most, while both hands are on the club."""
_PROMINENCE: Final[float] = 0.06
"""Body heights by which a high or low of the hands must stand out from its surroundings."""
_LEAST_LEG: Final[float] = 0.35
"""Share of its neighbours that a way up or down must reach to be one of its own; less is a tremor
of the estimator's, a dwell on the way or a sinking at the top."""
_FALL_LASTS: Final[tuple[float, float]] = (0.05, 5.0)
"""Seconds, at least a frame or two of ordinary video, at most a rehearsal in slow motion or a film
played at an eighth of its speed."""
_SHORTEST_CLIP: Final[float] = 0.4
"""Seconds of a clip in which a downswing and the start of what follows it have no room."""
_CHECK_TIMES: Final[str] = "Check fps, or that timestamps are in seconds, and playback_speed."
_HIGHEST_LOW_POINT: Final[float] = 0.30
"""Body heights above the hips at which the hands may pass through the low point."""
_LEAST_DROP_BELOW_SHOULDERS: Final[float] = 0.05
"""Body heights from the shoulders down to the hands at the low point."""
_LEAST_TRUNK: Final[float] = 0.12
"""Body heights by which the shoulders stand above the hips, bent over the ball or not."""
_MOSTLY: Final[float] = 0.8
"""Share of the frames of the swing in which they must."""
_LEAST_RISE: Final[float] = 0.15
"""Share of the fall by which the hands must rise after it."""
_LONGEST_DWELL: Final[float] = 2.0
"""Time near the low point, as a share of the time of the fall: a swing does not stop there."""
_LEAST_DWELL_BASE: Final[float] = 0.1
"""Seconds; a fall quicker than that may dwell as long as one that lasts that long."""
_EDGE: Final[float] = 0.10
"""Seconds from the end of the clip within which a missing rise is put down to the cut."""
_LEAST_TOGETHER: Final[float] = 0.1
"""Share of the frames in which both wrists are surely seen that shows them together at least: an
estimator may misplace an arm that it is sure of, but not all through a swing."""
_NEARLY_AS_FAST: Final[float] = 0.85
"""Share of the highest speed of the hands in the clip that the real swing has at least."""
LIKELY_GOLF: Final[float] = 0.4
"""Log odds for golf from which a fall is taken for a swing: a little more than even, where clips
that no fit has seen have the fewest of either kind (ten-fold, by clip: of 145 real swings two lie
below and one within 0.6 above, of 460 other clips in which the hands fall four lie above;
``python -m tests.reference.fits.golf_likeness`` prints it)."""

_IF_SLOW: Final[float] = 2.0
"""By how much they are less for a fall that lasts e times as long as the shortest of the clip,
where it is asked which of two falls that share a high is the swing: hands are lowered from a finish
some five times as slowly as they came down in a swing, and about as slowly as in a slow rehearsal;
judgement."""

NO_DOWNSWING: Final = Reason(
    "no_downswing",
    "The hands never fall together from a height to the hips and rise again, as they do in "
    "a golf swing. If the clip was cut, send it from before the takeaway to the finish; a chip in "
    "which they rise by less than a tenth of body height is too short to be told.",
)


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


def find_downswings(tracks: Tracks) -> tuple[Downswing, ...]:
    """Every fall of the hands in the clip that looks like a golf swing, in time order.

    The hands also come down from the finish of a swing, and to address before it: two falls that
    share a high are not both swings. Of all falls those are taken that are likeliest golf together,
    so that hands which are lowered between a practice swing and the real one do not take the place
    of both. The faster need not be the swing: after a slow rehearsal the hands are lowered faster
    than they came down in it.
    """
    golf = [(fall, log_odds(tracks, fall)) for fall in falls(tracks)]
    some = [each for each in golf if each[1] >= LIKELY_GOLF]
    if len(some) > 1:
        some = _less_likely_if_slow(tracks, some)
    return tuple(_downswing(tracks, fall) for fall in _likeliest(some))


def _less_likely_if_slow(
    tracks: Tracks, golf: Sequence[tuple[Fall, float]]
) -> list[tuple[Fall, float]]:
    """The falls with log odds that are the less, the slower one is against the fastest of them; of
    those that share a high with no other nothing hangs on how much less."""
    lasts = [
        float(tracks.times[fall.low] - tracks.times[fall_begins(tracks.height, fall.top, fall.low)])
        for fall, _ in golf
    ]
    return [
        (fall, max(odds - _IF_SLOW * log(seconds / min(lasts)), LIKELY_GOLF))
        for (fall, odds), seconds in zip(golf, lasts, strict=True)
    ]


def _likeliest(golf: Sequence[tuple[Fall, float]]) -> list[Fall]:
    """The falls, in time order, no two of which share a high, whose log odds come to most.

    >>> falls = first, lowered, second = [Fall(k, k + 1, k + 2, k + 3, True) for k in (0, 2, 4)]
    >>> _likeliest([(first, 4.5), (lowered, 5.2), (second, 4.8)]) == [first, second]
    True
    >>> _likeliest([(first, 0.6), (lowered, 5.2), (second, 1.2)]) == [lowered]
    True
    """
    before: tuple[float, list[Fall]] = (0.0, [])
    best = before
    last: Fall | None = None
    for fall, odds in golf:
        shares = last is not None and last.end == fall.top
        total, others = before if shares else best
        before = best
        best = max(best, (total + odds, [*others, fall]), key=lambda each: each[0])
        last = fall
    return best[1]


def falls(tracks: Tracks, lasting: tuple[float, float] = _FALL_LASTS) -> list[Fall]:
    """Every fall of the hands that could be a downswing, in time order, golf or not.

    ``lasting`` are the seconds that it may last, at least and at most.
    """
    height, extremes = _extremes(tracks.height)
    found = []
    for k in range(len(extremes) - 1):
        if height[extremes[k]] > height[extremes[k + 1]]:
            candidate = _fall(tracks, height, extremes, k, lasting)
            if candidate is not None:
                found.append(candidate)
    return found


def _downswing(tracks: Tracks, fall: Fall) -> Downswing:
    peak = float(np.fmax.reduce(tracks.speed[fall.top : fall.low + 1]))
    return Downswing(fall.start, fall.top, fall.low if fall.rises else None, fall.end, peak)


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
            "The wrists or hips are missing, or less sure than a confidence of "
            f"{CONFIDENCE_FLOOR:g}, in more than half of the frames, so no swing can be looked "
            "for. Send clips in which both stay in the picture, and confidences from 0 to 1.",
        )
    if tracks.times[-1] < _SHORTEST_CLIP:
        return _clip_without_room(tracks)
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
    seen = falls(tracks)
    if seen:
        return _another_action(tracks, max(seen, key=lambda fall: log_odds(tracks, fall)))
    for fall in falls(tracks, lasting=(0.0, inf)):
        if log_odds(tracks, fall) >= LIKELY_GOLF:
            return _fall_of_no_swing(tracks, fall)
    return _hands_lost(tracks) or NO_DOWNSWING


def _hands_lost(tracks: Tracks) -> Reason | None:
    """Where the hands come down far enough, but are not seen for a while before they are up again;
    ``None`` where they are seen whenever they come down."""
    height, turns = _extremes(tracks.height)
    for top, low, end in zip(turns, turns[1:], (*turns[2:], len(height) - 1), strict=False):
        lost = np.isnan(tracks.height[top : end + 1])
        if lost.any() and height[top] - height[low] >= LEAST_FALL:
            when = _in_frames(tracks.times[top : end + 1][lost])
            return Reason(
                "hands_or_hips_not_seen",
                f"The wrists or hips are missing {when}, on the hands' way down or up again, so no "
                "swing can be told there. Send every frame, and a clip in which both stay in the "
                "picture.",
            )
    return None


def _in_frames(times: FloatArray) -> str:
    """In how many frames and when, by their times, in words."""
    if len(times) == 1:
        return f"in one frame at {times[0]:.2f} s"
    return f"in {len(times)} frames between {times[0]:.2f} and {times[-1]:.2f} s"


def _clip_without_room(tracks: Tracks) -> Reason:
    return Reason(
        "times_no_swing_takes",
        f"By the times sent the clip lasts {tracks.times[-1]:.2f} s, in which no swing has room. "
        f"{_CHECK_TIMES}",
    )


def _fall_of_no_swing(tracks: Tracks, fall: Fall) -> Reason:
    """By the shape of the path it is a swing, by its times it can't be one."""
    begins = fall_begins(tracks.height, fall.top, fall.low)
    return Reason(
        "times_no_swing_takes",
        f"By the times sent the clip lasts {tracks.times[-1]:.2f} s and the hands come down as in "
        f"a swing, but in {tracks.times[fall.low] - tracks.times[begins]:.2f} s, which no swing "
        f"takes. {_CHECK_TIMES}",
    )


def _another_action(tracks: Tracks, fall: Fall) -> Reason:
    told = " and ".join(trait.against for trait in speaks_against(tracks, fall))
    return Reason(
        "looks_like_another_action",
        f"The hands rise and fall, but more as in another action than in a golf swing: {told}.",
    )


def _extremes(height: FloatArray) -> tuple[FloatArray, list[int]]:
    """The hands' height without gaps, and its highs and lows in turn, the clip's ends included."""
    seen = (~np.isnan(height)).nonzero()[0]
    if seen.size < 3:
        return height, []
    gaps = seen.size < len(height)
    h = np.interp(np.arange(len(height)), seen, height[seen]) if gaps else height
    first, last = int(seen[0]), int(seen[-1])
    inner = [frame for frame in turning_points(h, _PROMINENCE) if frame not in (first, last)]
    frames = sorted([first, *inner, last])
    return h, _without_tremor(_alternate(frames, h[frames].tolist()), h)


def _without_tremor(frames: list[int], height: FloatArray) -> list[int]:
    """Drop the way between two turns where it is small against the ways before and after it.

    Hands that come down by less than a share of the way they went up have not swung: a swing brings
    them to about where they began, and so does the shortest chip, however high they go after it.
    """
    kept, heights = list(frames), height[frames].tolist()
    while len(kept) >= 4:
        shares = [_share_of_neighbours(*heights[k : k + 4]) for k in range(len(kept) - 3)]
        least = shares.index(min(shares))
        if shares[least] >= _LEAST_LEG:
            break
        del kept[least + 1 : least + 3], heights[least + 1 : least + 3]
    return kept


def _share_of_neighbours(start: float, turn: float, back: float, end: float) -> float:
    """How long the way between two turns is against those before and after it, 1 for a way of its
    own; all four are heights."""
    before, way, after = abs(turn - start), abs(back - turn), abs(end - back)
    if way > min(before, after):
        return 1.0
    return way / (max(before, after) if back > turn else before)


def _alternate(frames: list[int], heights: list[float]) -> list[int]:
    """Drop what lies on a slope, so that highs and lows take turns."""
    kept: list[tuple[int, float]] = []
    for frame, height in zip(frames, heights, strict=True):
        while len(kept) >= 2 and (kept[-1][1] - kept[-2][1]) * (height - kept[-1][1]) >= 0:
            kept.pop()
        kept.append((frame, height))
    return [frame for frame, _ in kept]


def _fall(
    tracks: Tracks,
    height: FloatArray,
    extremes: list[int],
    k: int,
    lasting: tuple[float, float],
) -> Fall | None:
    top, low = extremes[k], extremes[k + 1]
    start = extremes[k - 1] if k > 0 else top
    end = extremes[k + 2] if k + 2 < len(extremes) else low
    duration = tracks.times[low] - tracks.times[fall_begins(height, top, low)]
    if not (
        _falls_like_a_swing(tracks, height, top, low)
        and _stands_upright(tracks, start, low)
        and _hands_meet(tracks, start, low)
    ):
        return None
    if not lasting[0] <= duration <= lasting[1]:
        return None
    rises = _rises_again(tracks.times, height, (top, low, end), duration)
    return None if rises is None else Fall(start, top, low, end if rises else low, rises)


def _falls_like_a_swing(tracks: Tracks, height: FloatArray, top: int, low: int) -> bool:
    if isnan(np.add.reduce(tracks.height[top : low + 1])):
        return False
    drop = tracks.shoulders[low, 1] - tracks.hands[low, 1]
    return bool(
        height[top] - height[low] >= LEAST_FALL
        and height[low] <= _HIGHEST_LOW_POINT
        and not drop < _LEAST_DROP_BELOW_SHOULDERS
    )


def _stands_upright(tracks: Tracks, start: int, low: int) -> bool:
    trunk = tracks.shoulders[start : low + 1, 1] - tracks.hips[start : low + 1, 1]
    return bool(np.count_nonzero(trunk > _LEAST_TRUNK) >= _MOSTLY * trunk.size)


def _hands_meet(tracks: Tracks, start: int, low: int) -> bool:
    apart = tracks.hands_apart[start : low + 1]
    sure = apart[~np.isnan(apart)]
    together = np.count_nonzero(sure <= HANDS_TOGETHER)
    return bool(together >= _LEAST_TOGETHER * sure.size)


def _rises_again(
    times: FloatArray, height: FloatArray, turns: tuple[int, int, int], duration: float
) -> bool | None:
    """True: it rises. False: the clip stops before it can. None: the hands stay down.

    ``turns`` are the frames of top, low and end; ``duration`` seconds of the fall.
    """
    top, low, end = turns
    fall = height[top] - height[low]
    above = (height[low : end + 1] > height[low] + _LEAST_RISE * fall).nonzero()[0]
    if above.size == 0 and times[-1] - times[low] > _EDGE:
        return None
    entered = (height[top : low + 1] > height[low] + 0.25 * fall).nonzero()[0][-1]
    left = times[low + above[0]] if above.size else times[-1]
    dwell = left - times[top + int(entered)]
    return above.size > 0 if dwell <= _LONGEST_DWELL * max(duration, _LEAST_DWELL_BASE) else None
