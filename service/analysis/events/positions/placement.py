"""The positions P1 to P10 of one swing and the continuous position coordinate.

Definitions (common practice; P1 and P10 in terms of the player's movement):

- P1 address: the takeaway begins. The last moment at which hands and clubhead are within 1 % of
  body height of their place at address.
- P2 shaft parallel to the ground in the takeaway, P3 lead arm parallel in the backswing.
- P4 top: the lead arm turns back against its shoulder, by which a body that goes down first has
  begun to carry the hands along; the end of a pause there.
- P5 lead arm parallel coming down, P6 shaft parallel coming down.
- P7 impact: the clubhead is back above its place at address, along the target line.
- P8 shaft parallel after impact, P9 trail arm parallel after impact.
- P10: the finish. The first moment from which the hands are within 1 % of body height of where
  they stop: they hold there, or turn back.

An arm or a shaft is parallel to the ground when both its ends are equally high in the
picture, which holds face-on for a level camera; down the line one end is nearer to the camera, for
which a usual camera's share is taken off. A few thresholds look for every position; a network
learnt on golfers of several makes places all of them anew from all that is seen of the swing
(:mod:`service.analysis.events.positions.network`), which tells most where what defines them is
hidden: the first and last centimetres, the turn, the shaft without a club, the ball's place along
the line of sight. Without a club P2, P6 and P8 are marked as inferred, in short swings told by the
network alone, and so are P3, P5 and P9 where the wrist is lost and the hands tell. Of a club its
head is enough: where no grip is sent the lead wrist holds it, and P2 is told too where the head is
out of the picture just then.

What lies outside the clip is not told: a top is seen where the hands come up to it or rest there, a
start where the network puts it within the clip, a finish where the clip goes on after it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import pairwise
from math import erf, hypot, sqrt
from typing import Final

import numpy as np

from service.analysis.events.detection import Downswing
from service.analysis.events.landmark_paths import Tracks
from service.analysis.events.positions.network import (
    ALLOWED,
    ALLOWED_SHARE,
    PositionEstimates,
    network,
)
from service.analysis.events.positions.searches.finish import LEAST_HOLD, find_finish
from service.analysis.events.positions.searches.impact import find_impact
from service.analysis.events.positions.searches.levels import arm_parallel, shaft_parallel
from service.analysis.events.positions.searches.scene import Found, Scene
from service.analysis.events.positions.searches.takeaway import JUST_BEGUN, find_takeaway
from service.analysis.events.positions.searches.turn import find_top
from service.analysis.events.positions.second_look import (
    at_odds,
    both_readings,
    where_told,
)
from service.analysis.events.positions.strip import strips_of
from service.analysis.events.positions.strip_clock import StripInput
from service.analysis.pose.geometry import within
from service.analysis.pose.points import Point
from service.analysis.types import FloatArray, Position, Reason, Source, View

# Judgements of ours, checked on simulated swings.
_MOST_OBSERVED: Final[float] = 0.5
"""Largest uncertainty of a position that counts as observed, in lengths of the swing: what may lie
anywhere in it was not seen; judgement."""
_TOO_UNSURE: Final = Reason(
    "too_unsure", "The points are too unsteady or too few to tell when this position is passed."
)
_BY_CLUB: Final[frozenset[int]] = frozenset({2, 6, 8})
"""Positions that the shaft itself shows where it is seen."""
_ABOUT: Final[Mapping[int, tuple[int, int]]] = {2: (1, 4), 6: (4, 7), 8: (7, 10)}
"""Positions between which they lie in swings of any length."""
_FARTHEST: Final[Mapping[int, float]] = {**dict.fromkeys(range(1, 11), 0.5), 7: 0.04}
"""How far from where thresholds place it a position may be moved, in lengths of the swing, and how
unsure the network may be for its word to count. P7's was set on annotated clips whose hidden arms
lie anywhere: the hands are lowest near the ball whatever the footage. The rest is judgement, hardly
ever reached."""
_BOTH_SAY: Final[Mapping[View, Mapping[int, float]]] = {
    View.FACE_ON: {1: 2.0, 3: 4.0, 5: 4.0, 8: 4.0, 9: 4.0, 10: 1.5},
    View.DOWN_THE_LINE: {3: 4.0, 8: 4.0, 9: 4.0},
}
"""Positions that thresholds see as well as the network does: of these both have a say, each by how
sure it is. A level arm is level when it is, whatever the rest of the swing says, and hands leave
and reach their place when they do; down the line they do so along the line of sight. The network
knows only how swings usually go on: of golfers whose trail arm is level soon after the shaft it
places P9 some 30 ms late, and of captured ones P1 some 40 ms off. Where no club is seen the hands
tell P8 by how far they are on their way to P9, about as well as the network does.

The numbers are uncertainties of both together from which one of the two has misread the clip; then
the network's word counts, which sees the rest of the swing and takes no waggle for the takeaway
(judgement, checked on simulated golfers and motion capture)."""
_PAUSED: Final[float] = 2.0
"""Errors allowed from which the network is unsure of the top, and hands that are seen to leave it
have a say too: over a long pause or a creeping one its chances lie anywhere in it, and the fullest
is rather the end of the way up than that of the pause. Set while looking at golfers of other makes
and motion capture, whose tops the network tells better where it is sure."""
_HANDS_LEAVE: Final[float] = 4.0
"""Uncertainties of both together from which the hands have not left the top but sunk or waved;
judgement."""
_MORE_SAY: Final[Mapping[int, float]] = {4: 2.0, 5: 2.0, 8: 2.0, 9: 0.5}
"""Share of its uncertainty by which a threshold is weighed where the network is known to err on
golfers unlike those it learnt from. Set while looking at the golfer of another make, of whom a
tenth more are placed rightly; on makes left out it is even. At P5 2 % more of one more golfer are,
at P8 down the line 1 % more in the mean of seven sources."""
_SHAFT_SAYS: Final[float] = 0.5
"""The same of a shaft that is seen. It is nearly always the surer one, but where it is seen now and
then only or hardly turns, which its uncertainty tells. Of 1506 such shafts of golfers of four
makes, placed by networks that don't know them, 28 were off by more than is allowed: 23 of these are
placed rightly so, and none that was right is placed wrongly."""
_SURELY: Final[float] = 2.0
"""Uncertainties after the first frame, and :data:`JUST_BEGUN` at least, from which a start lies
within the clip. Where thresholds see no rest before it, it is where the network places it then: of
47 such starts of golfers of all makes it placed all within two of its uncertainties, thresholds 43
farther off than is allowed."""
_LEAST_TO_LEVEL: Final[float] = 0.2
"""Share of the backswing until its shaft is level, at least: usually a third to a half (common
practice), and some of it may lie before the first frame."""
_SUREST_FIRST: Final[tuple[int, ...]] = (4, 7, 5, 3, 9, 6, 8, 1, 2, 10)
_APART: Final[float] = 1e-3
"""Seconds between two positions, at least; so that they stay in order."""


def find_positions(
    points: FloatArray,
    tracks: Tracks,
    swing: Downswing,
    view: View,
    noise: FloatArray,
    *,
    refined: bool = True,
) -> tuple[Position, ...]:
    """Find P1 to P10.

    Parameters
    ----------
    points : array of shape (n_frames, n_points, 2)
        Canonical, body heights.
    noise : array of shape (n_points,)
        One standard deviation of the error of ``points`` on one axis.
    refined : bool
        False leaves every position where thresholds place it, without the network of
        :mod:`service.analysis.events.positions.network`.

    Returns
    -------
    tuple of ten positions in order; a position that the clip does not show is there with
    the reason.
    """
    scene = Scene(points, tracks, swing, view, noise)
    return find_all_positions((scene,), refined=refined)[0]


def find_all_positions(
    scenes: Sequence[Scene], *, refined: bool = True
) -> list[tuple[Position, ...]]:
    """What :func:`find_positions` finds in each of some swings, the network asked once for all."""
    found = [_search(scene) for scene in scenes]
    if refined:
        found = [_in_order(moments) for moments in _refined(scenes, found)]
        clocks = [scene.tracks.times for scene in scenes]
        found = [_shown(*each) for each in zip(found, clocks, strict=True)]
    return [_as_positions(*each) for each in zip(scenes, found, strict=True)]


def _as_positions(scene: Scene, found: dict[int, Found | None]) -> tuple[Position, ...]:
    frames, longest = _frames(scene.tracks.times, found), _MOST_OBSERVED * _length(found)
    return tuple(
        _missing(scene, number, found)
        if moment is None
        else _as_position(number, moment, frames[number], longest)
        for number, moment in ((k, found[k]) for k in range(1, 11))
    )


def _frames(clock: FloatArray, found: Mapping[int, Found | None]) -> dict[int, float]:
    """Fractional frames of the positions found, by number."""
    times = {number: moment.time for number, moment in found.items() if moment is not None}
    frames = np.interp(list(times.values()), clock, np.arange(len(clock)))
    return dict(zip(times, frames.tolist(), strict=True))


def _search(scene: Scene) -> dict[int, Found | None]:
    found: dict[int, Found | None] = {}
    turn = find_top(scene)
    found[4], top = turn, turn.time
    found[1] = find_takeaway(scene, top)
    found[7] = find_impact(scene, found[1])
    start = found[1].time if found[1] else None
    impact = found[7].time if found[7] else None
    found[3] = arm_parallel(scene, 3, start, top)
    found[5] = arm_parallel(scene, 5, top, impact)
    found[9] = arm_parallel(scene, 9, impact, None) if found[7] else None
    found[2], found[6], found[8] = (shaft_parallel(scene, number, found) for number in (2, 6, 8))
    found[10] = find_finish(scene, found[7], found[9])
    return _in_order(found)


def _refined(
    scenes: Sequence[Scene], found: Sequence[dict[int, Found | None]]
) -> list[dict[int, Found | None]]:
    """Moments of each swing as the network places them, where it may and knows its way.

    Where it reads another swing than the thresholds do, both look there once more.
    """
    better = list(found)
    read = _read(scenes, found)
    looks = dict[int, Scene]()
    for k, (told, length) in read.items():
        if not at_odds(found[k], told):
            better[k] = _moved(found[k], told, length, scenes[k])
            continue
        better[k] = both_readings(found[k], told)
        again = where_told(scenes[k], told)
        if again is not None:
            looks[k] = again
    second = [_search(scene) for scene in looks.values()]
    reread = _read([*looks.values()], second)
    for place, (k, scene) in enumerate(looks.items()):
        if place in reread and not at_odds(second[place], reread[place][0]):
            better[k] = _moved(second[place], *reread[place], scene)
    return better


def _read(
    scenes: Sequence[Scene], found: Sequence[dict[int, Found | None]]
) -> dict[int, tuple[PositionEstimates, float]]:
    """What the network tells of each swing that can be laid on a strip, by number, and the length
    of the swing by thresholds."""
    laid = strips_of([_strip_input(*each) for each in zip(scenes, found, strict=True)])
    strips = {k: strip for k, strip in enumerate(laid) if strip is not None}
    if not strips:
        return {}
    views, frames = [scenes[k].view for k in strips], [scenes[k].frame for k in strips]
    told = network().place_all([*strips.values()], views, np.array(frames))
    return {k: (each, strip.length) for (k, strip), each in zip(strips.items(), told, strict=True)}


def _strip_input(scene: Scene, found: Mapping[int, Found | None]) -> StripInput:
    times = {k: moment.time for k, moment in found.items() if moment is not None}
    return StripInput(scene.points, scene.tracks, scene.view, scene.noise, times)


def _moved(
    found: Mapping[int, Found | None], told: PositionEstimates, length: float, scene: Scene
) -> dict[int, Found | None]:
    """The moments of one swing of that length, moved to where the network places them."""
    better = dict(found)
    clock, both = scene.tracks.times, _BOTH_SAY[scene.view]
    times, spreads = told.times.tolist(), told.spread.tolist()
    allowed = max(ALLOWED, ALLOWED_SHARE * length)
    for number, moment in found.items():
        if moment is None:
            if number in _BY_CLUB and scene.clubhead is None:
                better[number] = _told_alone(number, times, spreads, found)
            continue
        if number == 1 and times[0] < clock[0]:
            better[number] = _begun_before(moment, times[0], float(clock[0]))
            continue
        time, spread = times[number - 1], spreads[number - 1]
        within_clip = number == 1 and time - max(_SURELY * spread, JUST_BEGUN) > clock[0]
        shaft_seen = number in _BY_CLUB and not moment.inferred
        if not (within_clip or shaft_seen or to_refine(number, inferred=moment.inferred)):
            continue
        if _crosses(number, time, found):
            continue
        told_by = Found(time, spread, moment.inferred, moment.shown)
        if shaft_seen:
            told_by = _by_shaft(moment, told_by)
        elif number in both and moment.inferred is (number in _BY_CLUB):
            told_by = _between(told_by, moment, both[number], _MORE_SAY.get(number, 1.0))
        elif number == 4 and spread > _PAUSED * allowed:
            told_by = _between(told_by, moment, _HANDS_LEAVE, _MORE_SAY[number])
        farthest = _FARTHEST[number] * length
        if told_by.uncertainty <= farthest:  # else the network doesn't know its way
            better[number] = _held_near(told_by, moment, farthest, clock)
    return better


def _told_alone(
    number: int, times: Sequence[float], spreads: Sequence[float], found: Mapping[int, Found | None]
) -> Found | None:
    """A level shaft that is never seen, where arms that don't come level leave the hands no height
    to tell it by; the network alone tells it, where the swing about it is found."""
    first, last = (found[k] for k in _ABOUT[number])
    time = times[number - 1]
    if first is None or last is None or not first.time < time < last.time:
        return None
    return Found(time, spreads[number - 1], inferred=True)


def _begun_before(start: Found, told: float, first: float) -> Found | None:
    """The first frame where the swing begins just before it, none where well before."""
    if told < first - JUST_BEGUN:
        return None
    unsure = hypot(start.uncertainty, first - told)
    return replace(start, time=first, uncertainty=unsure, inferred=True)


def _crosses(number: int, time: float, found: Mapping[int, Found | None]) -> bool:
    """Whether a position so placed would change places with the top or impact that thresholds
    found: then the network has misread the clip, however sure it is."""
    for k in (4, 7):
        at = found[k]
        if k != number and at is not None and (time - at.time) * (number - k) <= 0.0:
            return True
    return False


def _shown(found: Mapping[int, Found | None], clock: FloatArray) -> dict[int, Found | None]:
    """Without what the clip begins too late or stops too early to show.

    A start that lies within two of its uncertainties of the first frame was not seen to be one, and
    a finish was seen only where the clip goes on after it, with hands that no longer come.
    """
    top, start, finish = found[4], found[1], found[10]
    kept = dict(found)
    if top is not None and not top.shown:
        kept.update(dict.fromkeys((1, 2, 3, 4)))
    elif start is not None and start.time - clock[0] < _SURELY * start.uncertainty:
        early = _well_begun(start.time, found)
        kept[1] = None if early else replace(start, inferred=True)
    if finish is not None and not (finish.shown and clock[-1] - finish.time >= LEAST_HOLD):
        kept[10] = None
    return kept


def _well_begun(first: float, found: Mapping[int, Found | None]) -> bool:
    """Whether the shaft is seen level so soon after the first frame that the takeaway was far on by
    then, which is no address.

    >>> found = {2: Found(0.1, 0.01), 4: Found(1.0, 0.01)}
    >>> _well_begun(0.0, found), _well_begun(-0.2, found)
    (True, False)
    """
    second, top = found[2], found[4]
    if second is None or second.inferred or top is None:
        return False
    return second.time - first < _LEAST_TO_LEVEL * (top.time - first)


def _between(one: Found, other: Found, apart: float, weighed: float) -> Found:
    """Between two moments, nearer the surer one, the other being weighed by a share of its
    uncertainty; their errors are taken to go together. The first alone where they are so many
    uncertainties of both apart."""
    if abs(one.time - other.time) > apart * hypot(one.uncertainty, other.uncertainty):
        return one
    share = _share(one.uncertainty, weighed * other.uncertainty)
    time = share * one.time + (1.0 - share) * other.time
    return replace(one, time=time, uncertainty=0.5 * (one.uncertainty + other.uncertainty))


def _by_shaft(seen: Found, told: Found) -> Found:
    """Where a shaft is seen to be level, nearer to where the network tells it the less sure that
    is; as sure as either by its share.

    >>> _by_shaft(Found(1.0, 0.01), Found(1.1, 0.02)).time < 1.01
    True
    >>> round(_by_shaft(Found(1.0, 0.4), Found(1.1, 0.02)).time, 2)
    1.1
    """
    share = _share(told.uncertainty, _SHAFT_SAYS * seen.uncertainty)
    time = share * told.time + (1.0 - share) * seen.time
    unsure = share * told.uncertainty + (1.0 - share) * seen.uncertainty
    return replace(seen, time=time, uncertainty=unsure)


def _share(own: float, other: float) -> float:
    """Share of one of two uncertain values in what lies between them, nearer the surer."""
    return other**2 / (own**2 + other**2)


def _held_near(told: Found, placed: Found, farthest: float, clock: FloatArray) -> Found:
    """What the network tells, no farther than so many seconds from where thresholds place it and
    within the clip; as much less sure as that takes away."""
    first = max(placed.time - farthest, float(clock[0]))
    last = min(placed.time + farthest, float(clock[-1]))
    time = within(told.time, first, last)
    if time == told.time:
        return told
    return replace(told, time=time, uncertainty=hypot(told.uncertainty, told.time - time))


def to_refine(number: int, *, inferred: bool) -> bool:
    """Whether the network may place a position that thresholds have found: not alone what the shaft
    itself shows, nor a start that may lie before the clip."""
    return inferred if number in _BY_CLUB else not (inferred and number == 1)


def _in_order(found: dict[int, Found | None]) -> dict[int, Found | None]:
    """Give up positions that don't come after the one before; the surest are kept first."""
    times = [moment.time for k in range(1, 11) if (moment := found[k]) is not None]
    if all(later - time > _APART for time, later in pairwise(times)):
        return found
    kept: dict[int, float] = {}
    for number in _SUREST_FIRST:
        moment = found[number]
        if moment is None:
            continue
        apart = [(moment.time - time) * (1 if number > k else -1) for k, time in kept.items()]
        if not apart or min(apart) > _APART:
            kept[number] = moment.time
    return {k: moment if k in kept else None for k, moment in found.items()}


def _as_position(number: int, moment: Found, frame: float, longest: float) -> Position:
    """A moment as it is told; one of a larger uncertainty than ``longest``, in seconds, is not
    observed."""
    if moment.disputed:
        return Position(number, Source.NOT_FOUND, reason=_TOO_UNSURE)
    unsure = moment.uncertainty > longest
    return Position(
        number,
        Source.INFERRED if moment.inferred or unsure else Source.OBSERVED,
        time=moment.time,
        frame=frame,
        uncertainty=moment.uncertainty,
        confidence=_confidence(moment.uncertainty),
        reason=_TOO_UNSURE if unsure else None,
    )


def _length(found: Mapping[int, Found | None]) -> float:
    """Seconds from the first to the last of the positions found, 0 where none is."""
    times = [moment.time for moment in found.values() if moment is not None]
    return max(times) - min(times) if times else 0.0


def _confidence(uncertainty: float) -> float:
    """Chance that the truth lies within 33 ms, one frame of ordinary video."""
    return float(erf(0.033 / (uncertainty * sqrt(2.0))))


def _missing(scene: Scene, number: int, found: Mapping[int, Found | None]) -> Position:
    return Position(number, Source.NOT_FOUND, reason=_why_missing(scene, number, found))


def _why_missing(scene: Scene, number: int, found: Mapping[int, Found | None]) -> Reason:
    told = [k for k, each in found.items() if each is not None]
    if found[1] is None and number <= max(3, min(told, default=10)):
        return Reason("clip_starts_late", "The clip starts after this position.")
    if (number >= 7 and scene.swing.low is None) or number > max(7, *told, 0):
        return Reason("clip_stops_early", "The clip stops before this position.")
    needed = {3: Point.LEAD_WRIST, 5: Point.LEAD_WRIST, 9: Point.TRAIL_WRIST}.get(number)
    if needed is not None and np.isnan(scene.points[:, needed]).all():
        return Reason("joints_not_seen", "The arm that defines this position is not seen.")
    return Reason("not_reached", "The swing does not clearly reach this position in the clip.")
