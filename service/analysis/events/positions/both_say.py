"""What thresholds and the network say of a position, put together.

Thresholds see what defines it, the network all of the swing. Mostly the network's word counts;
where thresholds are known to see as well, each has its say by how sure it is.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from math import hypot
from typing import Final

from service.analysis.events.positions.network import ALLOWED, ALLOWED_SHARE, PositionEstimates
from service.analysis.events.positions.searches.scene import Found, Scene
from service.analysis.events.positions.searches.takeaway import JUST_BEGUN, SURELY
from service.analysis.pose.geometry import within
from service.analysis.types import FloatArray, View

# Judgements of ours, checked on simulated swings.
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


def placed_by_both(
    found: Mapping[int, Found | None], told: PositionEstimates, length: float, scene: Scene
) -> dict[int, Found | None]:
    """The moments of one swing of that length in seconds, as thresholds found them, placed by what
    the network tells as well."""
    placed = dict(found)
    moments = zip(told.times.tolist(), told.spread.tolist(), strict=True)
    for number, (time, spread) in enumerate(moments, 1):
        moment = found[number]
        if moment is not None:
            by_network = Found(time, spread, moment.inferred, moment.shown)
            placed[number] = _placed(number, moment, by_network, found, length, scene)
        elif number in _BY_CLUB and scene.clubhead is None:
            placed[number] = _told_alone(number, Found(time, spread, inferred=True), found)
    return placed


def _placed(
    number: int,
    moment: Found,
    told: Found,
    found: Mapping[int, Found | None],
    length: float,
    scene: Scene,
) -> Found | None:
    """One moment by what both say; as it was found where the network's word doesn't count."""
    clock, both = scene.tracks.times, _BOTH_SAY[scene.view]
    if number == 1 and told.time < clock[0]:
        return _begun_before(moment, told.time, float(clock[0]))
    if not _may_place(number, moment, told, clock) or _crosses(number, told.time, found):
        return moment
    allowed = max(ALLOWED, ALLOWED_SHARE * length)
    if _shaft_seen(number, moment):
        told = _by_shaft(moment, told)
    elif number in both and moment.inferred is (number in _BY_CLUB):
        told = _between(told, moment, both[number], _MORE_SAY.get(number, 1.0))
    elif number == 4 and told.uncertainty > _PAUSED * allowed:
        told = _between(told, moment, _HANDS_LEAVE, _MORE_SAY[number])
    farthest = _FARTHEST[number] * length
    knows_its_way = told.uncertainty <= farthest
    return _held_near(told, moment, farthest, clock) if knows_its_way else moment


def _shaft_seen(number: int, moment: Found) -> bool:
    """Whether the shaft itself shows this moment."""
    return number in _BY_CLUB and not moment.inferred


def _may_place(number: int, moment: Found, told: Found, clock: FloatArray) -> bool:
    """Whether the network has a say about a moment that thresholds found: about a start that may
    lie before the clip it has where it surely places it within."""
    if _shaft_seen(number, moment) or to_refine(number, inferred=moment.inferred):
        return True
    surely = max(SURELY * told.uncertainty, JUST_BEGUN)
    return number == 1 and told.time - surely > float(clock[0])


def to_refine(number: int, *, inferred: bool) -> bool:
    """Whether the network may place a position that thresholds have found: not alone what the shaft
    itself shows, nor a start that may lie before the clip."""
    return inferred if number in _BY_CLUB else not (inferred and number == 1)


def _told_alone(number: int, told: Found, found: Mapping[int, Found | None]) -> Found | None:
    """A level shaft that is never seen, where arms that don't come level leave the hands no height
    to tell it by; the network alone tells it, where the swing about it is found."""
    first, last = (found[k] for k in _ABOUT[number])
    about_it = first is not None and last is not None and first.time < told.time < last.time
    return told if about_it else None


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
