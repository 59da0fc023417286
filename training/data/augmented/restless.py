"""The same motion by a player who is not a machine: starts, waits and finishes as people do.

The simulated golfers stand like posts, set all of the body off at once and freeze in the finish.
People sway and breathe while they wait, now and then start and come back, set off with the body,
the hands or the clubhead first, go down with the body while the arms still go back or the hands
still rise, let the hands or the club arrive late in the finish, recoil, and lower the club. Where
positions are is measured anew on what comes out, by the catalogue's words.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import Final

import numpy as np

from service.analysis.pose.points import Point
from service.analysis.types import FloatArray
from training.data.augmented.by_a_clock import ByAClock
from training.data.sources import FilmedSwing
from training.simulator.swing.motion import to_anatomical
from training.simulator.true_positions import position_times

# How often and how far: judgement, so wide that players at large lie within. Lengths in statures,
# (x to the target, y up, z to the ball) as mean and spread or spread alone.
_FALSE_START: Final[float] = 0.15
"""Share of swings in which the player starts, comes back, and starts in earnest."""
_FALSE_WAY: Final[tuple[float, float]] = (0.05, 0.25)
_FALSE_SECONDS: Final[tuple[float, float]] = (0.5, 1.2)
"""How far on its clock, in backswings, and for how long."""
_RECOILS: Final[float] = 0.35
"""Share of swings in which the hands go back some of the way they came."""
_RECOIL: Final[tuple[float, float]] = (0.05, 0.35)
_RECOIL_SECONDS: Final[tuple[float, float]] = (0.2, 0.7)
_ENDS: Final[float] = 0.15
"""How far back, and where past P10 the way through is over, in ways through (P7 to P10)."""
_LOWERS: Final[float] = 0.35
"""Share of swings after which the club is lowered."""
_HAPPENS: Final[float] = 0.75
"""Share of swings in which each other thing happens."""
_SWAY: Final = np.array([[-0.02, 0.0, 0.0], [0.05, 0.012, 0.02]])
_HANDS_FIRST: Final = np.array([[0.0, 0.0, 0.0], [0.012, 0.006, 0.010]])
_BODY_LATE: Final = np.array([[0.0, 0.0, 0.0], [0.02, 0.01, 0.02]])
_WAIT: Final[float] = 0.3
"""Rest after all that comes before the swing, in which the body may already shift, at most, in
backswings."""
_BODY_DOWN: Final = np.array([[0.01, -0.005, 0.0], [0.02, 0.01, 0.015]])
_TRUNK_DOWN: Final = np.array([[0.0, 0.0, 0.0], [0.012, 0.01, 0.012]])
_ARMS_ON: Final = np.array([[0.0, 0.005, 0.0], [0.012, 0.015, 0.012]])
"""About the top: the body ahead of the arms, the trunk of the pelvis, the arms beyond both."""
_HANDS_LATE: Final = np.array([[0.0, 0.0, 0.0], [0.02, 0.02, 0.04]])
_LOWERED: Final = np.array([[0.0, -0.2, 0.05], [0.05, 0.08, 0.08]])
_SHIFT: Final = np.array([[-0.012, -0.003, 0.0], [0.012, 0.004, 0.006]])
_SHIFT_SECONDS: Final[tuple[float, float]] = (0.06, 0.25)
_SHIFTS: Final[float] = 0.4
"""A body that shifts to one side, hands and club with it, as the club goes or shortly before; how
long that takes, in backswings, and in what share of the swings."""
_SHOULDERS_BACK: Final = np.array([[0.0, 0.0, 0.0], [0.0, 0.012, 0.0]])
_SHOULDERS_THROUGH: Final = np.array([[0.0, 0.008, 0.0], [0.0, 0.016, 0.0]])
"""By how much more the shoulders are tilted about P3 and P9, lead side up: whose trail shoulder
stays low has the trail arm level sooner."""
_RELEASED: Final = np.array([[0.0, -0.005, 0.0], [0.015, 0.02, 0.015]])
"""Where the arms are beside their usual way about P9."""
_DRAGGED: Final[tuple[float, float, float, float]] = (0.02, 0.05, -0.04, 0.15)
"""By how many backswings the club sets off after the hands: mean, spread, least and most."""
_SET: Final[tuple[float, float, float, float]] = (0.01, 0.06, -0.12, 0.15)
"""By how many backswings the wrists set it late, by P2: before 0 for an early set, well after 0 for
a takeaway in one piece. Without it the arm of three makes out of four is at P2 within 4 degrees of
the same place, and a shaft that is not seen is taken to be level there."""
_SWUNG_OUT: Final[tuple[float, float, float, float]] = (0.1, 0.12, -0.05, 0.35)
"""By how many ways through it comes to rest after them."""
_BREATH: Final[float] = 0.0015
"""Of standing sway and breath, one standard deviation."""
_BREATHS: Final[tuple[float, float]] = (1.2, 4.0)
"""Seconds that one takes."""
_P1, _P2, _P3, _P4, _P6, _P7, _P9, _P10 = 0, 1, 2, 3, 5, 6, 8, 9
_CLUB: Final = [Point.GRIP_END, Point.SHAFT_MID, Point.CLUBHEAD]


def _weights(**shares: float) -> FloatArray:
    """How much of a movement each point makes, shape (N_POINTS, 1), by names without a side."""
    told = [shares.get(p.name.removeprefix("LEAD_").removeprefix("TRAIL_")) for p in Point]
    rest = shares.get("REST", 0.0)
    return np.array([rest if share is None else share for share in told])[:, None]


_BODY: Final = _weights(REST=1.0, KNEE=0.5, ANKLE=0.0, HEEL=0.0, TOE=0.0, SMALL_TOE=0.0)
_ARMS: Final = _weights(
    ELBOW=0.5, WRIST=1.0, HAND=1.0, GRIP_END=1.0, GRIP=1.0, SHAFT_MID=1.0, CLUBHEAD=1.0
)
_TRUNK: Final = np.maximum(_BODY - _ARMS, 0.0)
_SHOULDERS: Final = _weights(SHOULDER=1.0, ELBOW=0.5) * np.array(
    [[1.0 if point.name.startswith("LEAD") else -1.0] for point in Point]
)
"""Of a tilt: what one side rises the other falls, while the hands stay."""


@dataclass(frozen=True)
class Way:
    """Points that go aside together and come back: ``metres`` of shape (3,) at the middle of three
    moments, in seconds; what is lowered stays there."""

    weights: FloatArray
    metres: FloatArray
    moments: tuple[float, float, float]

    def at(self, times: FloatArray) -> FloatArray:
        """How far the points are aside, shape (n_times, N_POINTS, 3)."""
        share = np.interp(times, self.moments, [0.0, 1.0, 0.0])
        share = 0.5 - 0.5 * np.cos(np.pi * share)
        return np.asarray(share[:, None, None] * self.weights * self.metres)


@dataclass(frozen=True)
class Restless(ByAClock):
    """A motion with what people do beside; ``lags`` are moments and by how much the club is then
    behind the hands, seconds, (2, n); ``breath`` holds amplitudes, periods and phases, (3, 3)."""

    swing_start: float
    ways: tuple[Way, ...] = field(repr=False)
    lags: FloatArray = field(repr=False)
    breath: FloatArray = field(repr=False)

    @cached_property
    def position_times(self) -> FloatArray:
        """Times of P1 to P10 in seconds, NaN where not reached, shape (10,)."""
        return position_times(
            self.canonical_joints, self.swing_start, self.duration, self.golfer.stature
        )

    def joints(self, times: FloatArray) -> FloatArray:
        """Joints of shape (n_times, N_POINTS, 3)."""
        return to_anatomical(self.canonical_joints(times), self.handedness)

    def canonical_joints(self, times: FloatArray) -> FloatArray:
        """The same as a right-hander's."""
        times = np.asarray(times, dtype=float)
        joints = super().canonical_joints(times)
        late = super().canonical_joints(times - np.interp(times, *self.lags))
        joints[:, _CLUB] = joints[:, [Point.GRIP]] + late[:, _CLUB] - late[:, [Point.GRIP]]
        size, period, phase = self.breath
        breath = size * np.sin(2.0 * np.pi * (times[:, None] / period + phase))
        joints = joints + breath[:, None] * _BODY
        for way in self.ways:
            joints += way.at(times)
        return np.asarray(joints)


def restless(motion: FilmedSwing, rng: np.random.Generator) -> FilmedSwing:
    """A motion with what people do beside, drawn at random."""
    own_times = motion.position_times
    waited = float(rng.uniform(0.0, _WAIT) * np.ptp(own_times[[_P1, _P4]]))
    own, told, begun = _clock(motion, own_times, waited, rng)
    later = begun + waited
    times = own_times + later
    if np.isnan(times[_P9]):
        times[_P9] = times[_P7] + 0.4 * (times[_P10] - times[_P7])
    start, stature = motion.swing_start + later, motion.golfer.stature
    about = _takeaway(times, start, waited, rng), _turn(times, rng), _finish(times, rng)
    ways = [way for part in about for way in part]
    breath = np.stack(
        [
            _BREATH * stature * rng.standard_normal(3),
            rng.uniform(*_BREATHS, 3),
            rng.uniform(0.0, 1.0, 3),
        ]
    )
    sized = tuple(Way(way.weights, stature * way.metres, way.moments) for way in ways)
    lags = _lags(times, start, rng)
    return Restless(motion, own, told, start - waited, sized, lags, breath)


def _clock(
    motion: FilmedSwing, times: FloatArray, waited: float, rng: np.random.Generator
) -> tuple[FloatArray, FloatArray, float]:
    """Seconds of the motion, those at which they are shown, and how much later the player is at
    rest before the swing."""
    start, back, through = motion.swing_start, np.ptp(times[[_P1, _P4]]), np.ptp(times[[_P7, _P10]])
    turn = 0.5 - 0.5 * np.cos(np.linspace(0.0, np.pi, 40))
    share = np.linspace(0.0, 1.0, 40)
    own, told, begun = [np.array([0.0, start])], [np.array([0.0, start])], 0.0
    if rng.random() < _FALSE_START:
        length = float(rng.uniform(*_FALSE_SECONDS))
        there = start + rng.uniform(*_FALSE_WAY) * back * np.concatenate([turn, turn[::-1]])
        own.append(there)
        told.append(start + 0.5 * length * np.concatenate([share, 1.0 + share]))
        begun = length + float(rng.uniform(0.0, 0.4))
    later = begun + waited
    if rng.random() < _RECOILS:
        end = min(float(times[_P10] + _ENDS * through), motion.duration)
        held = end + later + float(rng.exponential(0.08))
        lasts = float(rng.uniform(*_RECOIL_SECONDS))
        own += [np.array([start, end]), end - float(rng.uniform(*_RECOIL)) * through * turn]
        told += [np.array([start, end]) + later, held + lasts * share]
        own.append(own[-1][-1:])
        told.append(told[-1][-1:] + float(rng.uniform(0.1, 0.8)))
    else:
        own.append(np.array([start, motion.duration]))
        told.append(own[-1] + later)
    return np.concatenate(own), np.concatenate(told), begun


def _takeaway(
    times: FloatArray, start: float, waited: float, rng: np.random.Generator
) -> list[Way]:
    """What sets off before or after the rest of the swing."""
    back, latest = times[_P4] - start, np.fmin(times[_P6], times[_P7])
    begin = start - float(rng.uniform(0.0, waited)) + float(rng.uniform(0.0, 0.2) * back)
    most = begin + float(rng.uniform(0.1, 0.7) * back)
    soon = start + float(rng.uniform(0.08, 0.4) * back), start + float(rng.uniform(0.5, 0.9) * back)
    shifts = start - float(rng.uniform(0.0, waited))
    shifted = shifts + float(rng.uniform(*_SHIFT_SECONDS)) * back
    level = times[_P3] if np.isfinite(times[_P3]) else start + 0.65 * back
    ways = _some(
        [
            Way(_BODY, _drawn(_SWAY, rng), (begin, most, latest)),
            Way(_ARMS, _drawn(_HANDS_FIRST, rng), (start, *soon)),
            Way(_SHOULDERS, _drawn(_SHOULDERS_BACK, rng), (start, level, times[_P4])),
        ],
        rng,
    )
    if rng.random() < _SHIFTS:
        ways.append(Way(_BODY, _drawn(_SHIFT, rng), (shifts, shifted, latest)))
    return ways


def _turn(times: FloatArray, rng: np.random.Generator) -> list[Way]:
    """What turns round before or after the arms do."""
    top, back = times[_P4], times[_P4] - times[_P1]
    down = np.fmin(times[_P6], times[_P7]) - top
    ways = []
    for weights, sizes in ((_BODY, _BODY_DOWN), (_TRUNK, _TRUNK_DOWN), (_ARMS, _ARMS_ON)):
        begin = top - float(rng.uniform(0.15, 0.5)) * back
        most = top + float(rng.uniform(-0.1 * back, 0.4 * down))
        end = most + float(rng.uniform(0.5, 1.0)) * (top + down - most)
        ways.append(Way(weights, _drawn(sizes, rng), (begin, most, end)))
    return _some(ways, rng)


def _finish(times: FloatArray, rng: np.random.Generator) -> list[Way]:
    """What arrives late, and whether the club is lowered."""
    end, through = times[_P10], times[_P10] - times[_P7]
    ways = []
    for weights, sizes, latest in (
        (_BODY, _BODY_LATE, 0.15),
        (_TRUNK, _BODY_LATE, 0.6),
        (_ARMS, _HANDS_LATE, 0.25),
    ):
        most = end - float(rng.uniform(0.05, 0.5) * (end - times[_P9]))
        moments = times[_P9], most, end + float(rng.uniform(-0.02, latest) * through)
        ways.append(Way(weights, _drawn(sizes, rng), moments))
    arm = times[_P9] + float(rng.uniform(-0.1, 0.2)) * (times[_P9] - times[_P7])
    for weights, sizes in ((_SHOULDERS, _SHOULDERS_THROUGH), (_ARMS, _RELEASED)):
        ways.append(Way(weights, _drawn(sizes, rng), (times[_P7], arm, end)))
    ways = _some(ways, rng)
    if rng.random() < _LOWERS:
        begin = end + float(rng.uniform(0.05, 0.8) * through)
        moments = begin, begin + float(rng.uniform(0.3, 1.2)), np.inf
        ways.append(Way(_ARMS, _drawn(_LOWERED, rng), moments))
    return ways


def _lags(times: FloatArray, start: float, rng: np.random.Generator) -> FloatArray:
    """When the club is how far behind the hands: in the takeaway, as the wrists set it, and coming
    to rest."""
    back, through = times[_P4] - start, times[_P10] - times[_P7]
    first, at_level, last = (
        float(np.clip(rng.normal(mean, spread), least, most)) * part
        for (mean, spread, least, most), part in (
            (_DRAGGED, back),
            (_SET, back),
            (_SWUNG_OUT, through),
        )
    )
    level = times[_P2] if np.isfinite(times[_P2]) else start + 0.6 * back
    moments = [
        start,
        level,
        level + float(rng.uniform(0.6, 1.0)) * (times[_P4] - level),
        times[_P7] + 0.15 * through,
        times[_P10] - 0.1 * through,
    ]
    return np.array([moments, [first, at_level, 0.0, 0.0, last]])


def _some(ways: list[Way], rng: np.random.Generator) -> list[Way]:
    """Those that happen."""
    return [way for way in ways if rng.random() < _HAPPENS]


def _drawn(sizes: FloatArray, rng: np.random.Generator) -> FloatArray:
    return np.asarray(sizes[0] + sizes[1] * rng.standard_normal(3))
