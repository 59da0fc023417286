"""Whether a fall of the hands belongs to a golf swing or to another action.

What makes it golf: both hands on one handle, elbows near one another, feet that stay, arms that
hang long at the low point, hands that start low, go up, come down through where they started and
go up again on the other side, and fall no slower than they go up. Each is one readable number, a
*trait*; a logistic function of the traits says how likely golf is.
All are ratios or body heights, none is a duration, so that a film played slow reads the same.

The traits were chosen and their table was fitted on research clips: joint annotations of Penn
Action [zhang2013] and of J-HMDB [jhuang2013], the latter's videos through an open pose estimator
too, whole and with a start, an end, the feet or the sureness of the wrists taken away, both wrists
on one place or the fall in slow motion, other actions twice in a film besides, and simulated swings
and motions of this project.
``python -m tests.reference.fits.golf_likeness`` makes the table anew and prints how a fit on either
source does on the other, which is the figure to go by: how this very table does on those clips is
not.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import atan2, degrees, hypot, isnan
from typing import Final

import numpy as np

from service.analysis.events.landmark_paths import Tracks
from service.analysis.pose.geometry import distance
from service.analysis.types import FloatArray


@dataclass(frozen=True)
class Fall:
    """A fall of the hands from a high to a low, by frame indices.

    ``start`` is the last low of the hands before the high ``top``, ``end`` the high after the low
    point ``low``; either may be the clip's edge. ``rises`` is false when the clip stops before the
    hands can rise again.
    """

    start: int
    top: int
    low: int
    end: int
    rises: bool


@dataclass(frozen=True)
class Trait:
    """One number that tells golf from other actions.

    Attributes
    ----------
    usual : float
        Its median in golf swings, which stands in where it can't be seen.
    spread : float
        Its standard deviation over golf and other actions together.
    weight : float
        Log odds for golf of one spread more.
    against : str
        What it says of a clip whose value speaks against golf.
    """

    name: str
    unit: str
    usual: float
    spread: float
    weight: float
    against: str


_FARTHEST: Final[float] = 3.0
"""Spreads beyond which a trait's value counts no further; one trait never decides alone."""
_OFFSET: Final[float] = 6.07
"""Log odds for golf where every trait has its usual value."""
_WIDEST: Final[float] = 0.3
"""Body heights between the wrists, or elbows, beyond which they are no more apart; and length of a
forearm beyond which it is no longer."""
_ONE_PLACE: Final[float] = 0.005
"""Body heights between the wrists in most frames of a fall of the hands below which one place was
sent for both, which says nothing of whether hands hold one handle. In 144 real swings the least is
0.02."""
_MORE_IF_ONE_PLACE: Final[float] = 0.6
"""Log odds by which golf must then be likelier by all else. With both wrists put on one place 121
of 122 real swings stay and 7 of 294 other actions are taken, nearly alike in either source; with
the wrists counted as if they had been seen together it is 121 and 14."""
_MORE_IF_UNSURE: Final[float] = 0.4
"""The same where wrists are never surely seen together up to the low point, so that it can't be
told whether they are apart. With a wrist unsure in one of four ways 562 of 562 real swings stay and
51 of 69 other actions that would be taken."""
_LAID_ON: Final[float] = 0.04
"""Body heights between the wrists, and between the elbows, below which one arm was laid on the
other, as estimators do with one that they lost behind the body: what such frames say of hands on
one handle is left out. With the trail arm laid on the other about the top 24 of 446 other clips in
which the hands fall are taken for golf as it is and 7 so; of 145 real swings as many stay. The
table below was fitted without it: anew no weight differs by more than 0.05, nor does any count of
one source fitted on the other."""
_NEAR_TOP: Final[float] = 0.05
"""Share of the fall within which hands are still at the top, where they may dwell."""
_NO_SLOWER, _SLOWEST = 1.0, 8.0
"""Times that a fall takes as long as the longer of the ways up before and after it, up to which it
says nothing and beyond which it says no more. Of 145 real swings the most is 0.9."""
_SEEN_RISE: Final[float] = 0.5
"""Share of the fall below which the hands must be seen before it for a backswing to be seen."""

TRAITS: Final[tuple[Trait, ...]] = (
    Trait(
        "hands_apart_before",
        "body heights",
        0.045,
        0.069,
        -0.60,
        "the hands are apart on the way up and down",
    ),
    Trait("wrists_nearest", "body heights", 0.036, 0.088, -0.62, "the hands are never together"),
    Trait(
        "hands_apart_after",
        "body heights",
        0.040,
        0.112,
        -1.32,
        "the hands come apart after the low point",
    ),
    Trait(
        "elbows_apart", "body heights", 0.118, 0.076, -0.80, "the elbows are far from one another"
    ),
    Trait(
        "forearm",
        "body heights",
        0.136,
        0.044,
        -0.47,
        "the hands are farther from the elbows than a forearm is long",
    ),
    Trait(
        "no_backswing",
        "0 or 1",
        0.000,
        0.491,
        -2.44,
        "the hands are not seen to go up before they fall",
    ),
    Trait(
        "no_rise",
        "0 or 1",
        0.000,
        0.363,
        -1.98,
        "the hands are not seen to go up again after they fell",
    ),
    Trait(
        "high_before",
        "share of the frames",
        0.000,
        0.279,
        -1.28,
        "the hands are held high before they go up",
    ),
    Trait(
        "start_above_low",
        "body heights",
        -0.019,
        0.081,
        -0.84,
        "the hands fall far below where they started",
    ),
    Trait(
        "top_above_shoulders", "body heights", 0.114, 0.137, 1.57, "the hands stay low at the top"
    ),
    Trait(
        "rise_after_low",
        "body heights",
        0.424,
        0.141,
        0.88,
        "the hands hardly rise after the low point",
    ),
    Trait("across", "body heights", 0.314, 0.132, 0.75, "the hands hardly go across the body"),
    Trait("reach", "body heights", 0.251, 0.071, 0.46, "the arms are bent at the low point"),
    Trait(
        "arms_from_plumb",
        "degrees",
        15.218,
        19.103,
        -1.12,
        "the arms point away from the ground at the low point",
    ),
    Trait("hips_travel", "body heights", 0.039, 0.099, -1.94, "the whole body travels"),
    Trait("foot_lift", "body heights", 0.031, 0.124, -1.34, "a foot is lifted"),
    Trait(
        "stance_change",
        "body heights",
        0.012,
        0.089,
        -1.58,
        "the feet step closer or farther apart",
    ),
    Trait(
        "fall_lasts",
        "times the longer way up",
        1.000,
        1.321,
        -1.63,
        "the hands come down more slowly than they go up before and after",
    ),
)


def fall_begins(height: FloatArray, top: int, low: int) -> int:
    """The frame from which hands are under way from frame ``top`` down to frame ``low``.

    Parameters
    ----------
    height : array of shape (n_frames,)
        Of the hands, in any unit, y up.
    """
    near = height[top : low + 1] >= height[top] - _NEAR_TOP * (height[top] - height[low])
    return top + int(near.nonzero()[0][-1])


def log_odds(tracks: Tracks, fall: Fall) -> float:
    """Log odds that a fall of the hands is a golf swing."""
    values, offset = traits(tracks, fall), _OFFSET
    if isnan(values[_HANDS_APART_BEFORE]):
        offset -= _MORE_IF_UNSURE
    if _middle(tracks.wrists_apart[fall.start : fall.end + 1]) < _ONE_PLACE:
        values[_OF_WRISTS] = np.nan
        offset -= _MORE_IF_ONE_PLACE
    return offset + float(contributions(values).sum())


def contributions(values: FloatArray) -> FloatArray:
    """Log odds that traits add by their values, both of shape (n_traits,); 0 where one is NaN."""
    away = np.minimum(np.maximum((values - _USUAL) / _SPREAD, -_FARTHEST), _FARTHEST)
    return np.where(np.isnan(away), 0.0, _WEIGHT * away)


def speaks_against(tracks: Tracks, fall: Fall) -> tuple[Trait, ...]:
    """The two traits that speak most against golf, the stronger first; fewer where no two do."""
    told = contributions(traits(tracks, fall))
    return tuple(TRAITS[k] for k in np.argsort(told)[:2] if told[k] < 0)


def traits(tracks: Tracks, fall: Fall) -> FloatArray:
    """The values of :data:`TRAITS` in their order, shape (n_traits,); NaN where not seen."""
    height = tracks.height
    top, low = fall.top, fall.low
    half = height[low] + _SEEN_RISE * (height[top] - height[low])
    back_seen = bool((height[fall.start : top + 1] < half).any())
    early = slice(fall.start, fall.start + 3)
    bottom = slice(max(low - 1, 0), low + 2)
    before, after = slice(fall.start, low + 1), slice(low, fall.end + 1)
    arms = tracks.hands[bottom] - tracks.shoulders[bottom]
    sideways, down = abs(_mean(arms[:, 0])), -_mean(arms[:, 1])
    across = tracks.hands[top : fall.end + 1, 0] - tracks.hips[top : fall.end + 1, 0]
    lead, trail = tracks.ankles[:, 0], tracks.ankles[:, 1]
    hands, wrists, elbows = _of_two_arms(tracks)
    nan = float("nan")
    return np.array(
        [
            _mean(hands[before]),
            _quarter(wrists[before]),
            _mean(hands[after]) if fall.rises else nan,
            _middle(elbows[before]),
            _middle(np.minimum(tracks.forearm[before], _WIDEST)),
            float(not back_seen),
            float(not fall.rises),
            np.count_nonzero(height[: fall.start + 1] > half) / (fall.start + 1)
            if back_seen
            else nan,
            height[fall.start] - height[low] if back_seen else nan,
            tracks.hands[top, 1] - tracks.shoulders[top, 1],
            height[fall.end] - height[low] if fall.rises else nan,
            _range(across) if fall.rises else nan,
            hypot(sideways, down),
            degrees(atan2(sideways, down)),
            _way(tracks.hips[early], tracks.hips[bottom]),
            _range(np.abs(lead[before, 1] - trail[before, 1])),
            abs(
                _mean(distance(lead[bottom], trail[bottom]))
                - _mean(distance(lead[early], trail[early]))
            ),
            _lasts(tracks, fall),
        ]
    )


def _of_two_arms(tracks: Tracks) -> FloatArray:
    """How far hands, wrists and elbows are apart, at most :data:`_WIDEST`, shape (3, n_frames); NaN
    where one arm was laid on the other."""
    laid = (tracks.wrists_apart < _LAID_ON) & (tracks.elbows_apart < _LAID_ON)
    apart = np.array([tracks.hands_apart, tracks.wrists_apart, tracks.elbows_apart])
    return np.where(laid, np.nan, np.minimum(apart, _WIDEST))


def _lasts(tracks: Tracks, fall: Fall) -> float:
    """How many times as long the fall lasts as the longer of the ways up, at least 1.

    A swing falls faster than it went up. The hands of who goes back to where an action began, to do
    it again, come down slowly between two quick ways up.
    """
    start, top, low, end = tracks.times[[fall.start, fall.top, fall.low, fall.end]].tolist()
    longer = max(top - start, end - low)
    took = low - float(tracks.times[fall_begins(tracks.height, fall.top, fall.low)])
    return min(max(took / longer, _NO_SLOWER), _SLOWEST) if longer > 0.0 else float("nan")


def _way(first: FloatArray, second: FloatArray) -> float:
    """Distance between the middles of two stretches of a path, each of shape (n, 2)."""
    along, up = (_mean(second[:, axis]) - _mean(first[:, axis]) for axis in (0, 1))
    return hypot(along, up)


def _mean(values: FloatArray) -> float:
    """Mean of what is seen; NaN where nothing is."""
    total = np.add.reduce(values)
    if isnan(total):
        values = values[~np.isnan(values)]
        total = np.add.reduce(values)
    return float(total / values.size) if values.size else float("nan")


def _quarter(values: FloatArray) -> float:
    """The value below which a quarter of what is seen lies; NaN where nothing is."""
    return _at_share(values, 4)


def _middle(values: FloatArray) -> float:
    """The value below which half of what is seen lies; NaN where nothing is."""
    return _at_share(values, 2)


def _at_share(values: FloatArray, parts: int) -> float:
    seen = np.sort(values[~np.isnan(values)])
    return float(seen[seen.size // parts]) if seen.size else float("nan")


def _range(values: FloatArray) -> float:
    """Largest less smallest of what is seen; NaN where nothing is."""
    return float(np.fmax.reduce(values) - np.fmin.reduce(values)) if values.size else float("nan")


_USUAL: Final[FloatArray] = np.array([trait.usual for trait in TRAITS])
_SPREAD: Final[FloatArray] = np.array([trait.spread for trait in TRAITS])
_WEIGHT: Final[FloatArray] = np.array([trait.weight for trait in TRAITS])
_OF_WRISTS: Final = [
    [trait.name for trait in TRAITS].index(name)
    for name in ("hands_apart_before", "wrists_nearest", "hands_apart_after")
]
_HANDS_APART_BEFORE: Final = _OF_WRISTS[0]
