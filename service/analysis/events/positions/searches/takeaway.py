"""P1: where the takeaway begins."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from math import hypot, isnan
from typing import Final

import numpy as np

from service.analysis.events.positions.searches.level_crossings import last_upcrossing
from service.analysis.events.positions.searches.onsets import (
    IN_PLACE,
    last_still,
    leaving_time,
    mean_place,
    rest_needed,
)
from service.analysis.events.positions.searches.scene import Found, Scene
from service.analysis.pose.geometry import distance
from service.analysis.types import BoolArray, FloatArray, View

_QUIET: Final[float] = 0.10
"""Share of its peak speed below which a movement counts as at rest; judgement."""
_QUIET_FLOOR: Final[float] = 0.08
"""Body heights a second below which hands are at rest whatever their peak; judgement."""
_GONE: Final[float] = 0.06
"""Body heights from address at which the hands are no longer at rest there; judgement."""
_ADDRESS_TO_IMPACT: Final[float] = 0.20
"""Body heights between the hands at address and at impact, at most; common practice."""
_LEAST_REST: Final[float] = 0.10
"""Seconds of rest that must be seen before a takeaway for its start to count as observed;
judgement."""
_UNSEEN_REST: Final[float] = 0.15
"""Uncertainty in seconds of a takeaway whose start may lie before the clip; judgement."""
JUST_BEGUN: Final[float] = 0.15
"""Seconds for which a takeaway may have been going on when the clip begins; judgement."""
SURELY: Final[float] = 2.0
"""Uncertainties after the first frame, and :data:`JUST_BEGUN` at least, from which a start lies
within the clip. Where thresholds see no rest before it, it is where the network places it then: of
47 such starts of golfers of all makes it placed all within two of its uncertainties, thresholds 43
farther off than is allowed."""
_JUST_SPEED: Final[float] = 0.7
"""Body heights a second of hands, at most, whose takeaway has just begun; judgement."""
_LEAST_GONE_ON: Final[Mapping[View, float]] = {View.FACE_ON: 0.08, View.DOWN_THE_LINE: 0.12}
"""Seconds by which that is unsure at least, as no movement starts quite evenly, and down the line
the hands start along the line of sight; judgement."""
_FEWEST: Final[int] = 5
"""Frames that tell for how long."""
_WELL_AWAY: Final[float] = 0.16
_CLUB_AWAY: Final[float] = 0.25
"""Body heights of hands and clubhead from their place at address up to which a takeaway is
looked at; judgement."""
_SOON: Final[float] = 0.6
"""Share of that face on, where the first centimetres are seen."""
_HANDS_FOR_CLUB: Final[float] = 0.4
"""Share of the clubhead's way that the hands have come in the first centimetres: what a clubhead
that is not seen has left is told by the hands; simulated swings."""
_START_SPREAD: Final[Mapping[View, float]] = {View.FACE_ON: 0.03, View.DOWN_THE_LINE: 0.15}
_NO_CLUB: Final[float] = 2.0
"""Uncertainty of the start as a share of the backswing, beside that of the curve, and by how much
it is larger where the hands tell for the club: what simulated golfers of several makes leave. Down
the line hands and club start along the line of sight."""
_USUAL: Final[float] = 0.9
"""Seconds of a backswing at full speed; the slower it is, the more its first centimetres look like
waiting. Common practice."""
_CURVE: Final[float] = 2.0
"""By how many spreads of the start among curves that fit it is uncertain; likewise."""


def find_takeaway(scene: Scene, top: float) -> Found | None:
    """Where the hands leave address for good; ``None`` if the clip starts in motion."""
    tracks = scene.tracks
    last = len(tracks.times) - 1  # across a gap in the film the top can come out beyond its end
    top_frame = min(max(int(np.searchsorted(tracks.times, top)), scene.swing.start), last)
    hang = _last_rest(scene, top)
    if hang is None:
        return _just_begun(scene)
    rest = last_still(scene.points, tracks, hang, top)
    clock, path = tracks.times, tracks.path
    still = int(clock.searchsorted(clock[rest] - rest_needed(top - clock[rest]))), rest
    starts = [
        leaving_time(clock, way, still, _well_away(clock, way, still, top_frame, far), level)
        for way, far, level in _ways(scene)
    ]
    if isnan(starts[0].time):
        return None
    start, spread = min(each for each in starts if not isnan(each.time))
    before = slice(clock.searchsorted(start - _LEAST_REST), clock.searchsorted(start, side="right"))
    gone = distance(path[before], mean_place(path, *still))
    if start - clock[0] < _LEAST_REST or (gone > _GONE).any():
        # No rest is seen before it: the takeaway may well have begun before the clip.
        return Found(max(start, float(clock[0])), _UNSEEN_REST, inferred=True)
    unseen = _START_SPREAD[scene.view] * (top - start) * max(1.0, (top - start) / _USUAL)
    unseen *= _NO_CLUB if scene.clubhead is None else 1.0
    return Found(start, hypot(0.5 * scene.frame, _CURVE * spread, unseen))


def _ways(scene: Scene) -> Iterator[tuple[FloatArray, float, float]]:
    """Paths that leave address, up to where they are looked at, and where they have left it.

    Hands leave their place against a body that sways and, face on, with one that shifts.
    """
    tracks, club, face_on = scene.tracks, scene.clubhead, scene.view is View.FACE_ON
    soon = _SOON if face_on else 1.0
    by_hands = IN_PLACE * (_HANDS_FOR_CLUB if face_on and club is None else 1.0)
    yield tracks.path, soon * _WELL_AWAY, by_hands
    if face_on:
        yield tracks.hands, soon * _WELL_AWAY, by_hands
    if club is not None:
        yield club, soon * _CLUB_AWAY, IN_PLACE


def _just_begun(scene: Scene) -> Found | None:
    """The first frame of a clip that begins with the takeaway; ``None`` where it has gone on for
    long, or the hands are not at address."""
    tracks, club = scene.tracks, scene.clubhead
    if not _hands_hang(scene, 1)[0]:
        return None
    if club is not None and not isnan(club[0, 0]):
        gone_on = _going_on_for(tracks.times, club, _CLUB_AWAY)
    else:
        gone_on = _going_on_for(tracks.times, tracks.path, _WELL_AWAY, _JUST_SPEED)
    if gone_on > JUST_BEGUN:
        return None
    return Found(float(tracks.times[0]), hypot(gone_on, _LEAST_GONE_ON[scene.view]), inferred=True)


def _going_on_for(
    clock: FloatArray, path: FloatArray, far: float, fastest: float = float("inf")
) -> float:
    """Seconds for which a movement has gone on in the first frame.

    What starts evenly has been on its way for as long as its speed takes at the rate at which it
    grows. Infinite where that can't be told, or it is faster than ``fastest`` already.
    """
    away = distance(path, path[0])
    until = int(np.argmax(away > far)) + 1  # 1 where it never is, or is not seen at first
    seen = ~np.isnan(away[:until])
    if np.count_nonzero(seen) < _FEWEST:
        return float("inf")
    time = clock[:until][seen] - clock[0]
    terms = np.column_stack([time, 0.5 * time**2])
    speed, growth = np.linalg.lstsq(terms, away[:until][seen])[0].tolist()
    if growth <= 0.0 or speed > fastest:
        return float("inf")
    return float(max(speed, 0.0) / growth)


def _well_away(
    clock: FloatArray, path: FloatArray, still: tuple[int, int], top: int, far: float
) -> float:
    """When a path is last seen nearer than ``far`` to its place at address, NaN if never."""
    part = slice(still[0], top + 1)
    clock, away = clock[part], distance(path[part], mean_place(path, *still))
    seen = ~np.isnan(away)
    return float(last_upcrossing(clock[seen], away[seen], np.array([far]))[0])


def _last_rest(scene: Scene, top: float) -> int | None:
    """Last frame before the top at which the hands rest at address."""
    tracks = scene.tracks
    top_frame = max(int(np.searchsorted(tracks.times, top)), scene.swing.start)
    speeds = tracks.speed[scene.swing.start : top_frame + 1]
    fastest = float(np.fmax.reduce(speeds))
    if isnan(fastest):
        return None
    slow = tracks.speed[:top_frame] < max(_QUIET * fastest, _QUIET_FLOOR)
    resting = (slow & _hands_hang(scene, top_frame)).nonzero()[0]
    return int(resting[-1]) if resting.size else None


def _hands_hang(scene: Scene, before: int) -> BoolArray:
    """Frames before another in which the hands are low and about where they pass the ball, shape
    (before,)."""
    tracks, swing = scene.tracks, scene.swing
    low = swing.start if swing.low is None else swing.low
    path = tracks.path
    reach = tracks.height[low] + 0.35 * (tracks.height[swing.top] - tracks.height[low])
    near = distance(path[:before], path[low]) <= _ADDRESS_TO_IMPACT
    return np.asarray((tracks.height[:before] <= reach) & near)
