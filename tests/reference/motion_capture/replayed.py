"""Motion capture played again: other bodies, tempos and cameras, and faults put on by geometry.

Where the captured swings come from is told in :mod:`tests.reference.motion_capture.captured`. Truth
is measured on the changed motion in space, by the catalogue's own measures.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property
from typing import Final

import numpy as np
from scipy.interpolate import PchipInterpolator

from service.analysis.pose.points import Point
from service.analysis.types import Club, FloatArray, Handedness, Intent, View
from tests.reference.motion_capture.captured import Captured, captured
from tests.reference.motion_capture.faults import put_on, random_faults
from training.data.draws import Footage, with_layout
from training.data.sources import Clip
from training.simulator import Camera, EstimatorNoise, film
from training.simulator.swing.motion import to_anatomical
from training.simulator.true_positions import finish_frame, takeaway_frame, top_frame

DISTANCES: Final = (3.0, 4.5, 6.0)
_STEP: Final = 0.002
_IN_PLACE: Final = 0.01
"""Statures within which hands and club are in place, as the catalogue defines P1 and P10."""
_HANDS_FOR_CLUB: Final = 0.4
"""Where no club is captured: the share of the clubhead's way that the hands go as it leaves its
place, both turning about the shoulders; an arm and a club are some 2.5 arms long."""
_STAND_INS: Final = {1: -45.0, 5: -40.0, 7: 42.0}
"""Where no club is captured: the lead arm's angle past straight down, face-on, that stands for P2,
P6 and P8; common practice. Measures need the windows; the places themselves are not judged."""
_RECOILED: Final = 1.4
"""Times the way through takes where the file shows the recoil after it too."""
_SPEEDING_UP: Final = 0.65
"""Share of the downswing in which the hands gain speed; common practice."""
_P1, _P2, _P3, _P4, _P5, _P6, _P7, _P8, _P9, _P10 = range(10)

_LOWER: Final = [p for p in Point if Point.LEAD_HIP <= p <= Point.TRAIL_SMALL_TOE] + [Point.MID_HIP]
_UPPER: Final = [p for p in Point if p not in _LOWER]
# Lengths of leg, trunk (hip to shoulder) and arm in statures: Drillis and Contini as in Winter,
# Biomechanics and Motor Control of Human Movement, from memory.
_LEG, _TRUNK, _ARM = 0.491, 0.288, 0.332


@dataclass(frozen=True)
class Body:
    """Who plays it again: factors on the captured body."""

    stature: float
    legs: float
    trunk: float


@dataclass(frozen=True)
class Replayed:
    """A captured swing on another body, at another tempo, with faults put on it.

    ``faults`` holds metres by the names of
    :data:`tests.reference.motion_capture.faults.PUTS`; ``knots`` are the times (seconds) of
    address, top, impact and end.
    """

    swing: Captured
    body: Body
    handedness: Handedness
    knots: tuple[float, float, float, float]
    duration: float
    faults: dict[str, float] = field(default_factory=dict)
    intent: Intent = Intent.FULL_SPEED
    club: Club = Club.MID_IRON

    @property
    def golfer(self) -> Body:
        """The player; the stature is told from the limbs, as no file gives it."""
        return Body(self._stature, self.body.legs, self.body.trunk)

    @cached_property
    def _stature(self) -> float:
        joints = self._placed(np.linspace(self.knots[0], self.knots[2], 40))

        def length(*chain: Point) -> float:
            steps = np.diff(joints[:, list(chain)], axis=1)
            return float(np.median(np.linalg.norm(steps, axis=-1).sum(axis=1)))

        legs = [length(Point.LEAD_HIP + s, Point.LEAD_KNEE + s, Point.LEAD_ANKLE + s)
                for s in (0, 1)]  # fmt: skip
        arms = [length(Point.LEAD_SHOULDER + s, Point.LEAD_ELBOW + s, Point.LEAD_WRIST + s)
                for s in (0, 1)]  # fmt: skip
        trunk = [length(Point.LEAD_HIP + s, Point.LEAD_SHOULDER + s) for s in (0, 1)]
        told = np.array([np.mean(legs) / _LEG, np.mean(trunk) / _TRUNK, np.mean(arms) / _ARM])
        return float(np.average(told, weights=[3.0, 2.0, 1.0]))

    @property
    def swing_start(self) -> float:
        """When the swing begins, seconds."""
        return self.knots[0]

    @property
    def stood_in(self) -> tuple[int, ...]:
        """Numbers of the positions that are stood in for."""
        return () if Point.CLUBHEAD in self.swing.seen else tuple(k + 1 for k in _STAND_INS)

    def _frames(self, times: FloatArray) -> FloatArray:
        """Frames at times, by the file's own clock where it tells times."""
        return self._by_way(times) if np.isnan(self.swing.rate) else self._own_clock(times)

    @cached_property
    def _own_clock(self) -> PchipInterpolator:
        """Frames at times: the player's own pace of each part, and of waiting, made so much faster
        or slower, without a jump between."""
        waited = self.swing.frames[0] / self.swing.rate
        times = [self.knots[0] - waited - 1.0, self.knots[0] - waited, *self.knots]
        times.append(self.knots[-1] + 1.0)
        frames = [0.0, 0.0, *self.swing.frames, self.swing.frames[-1]]
        return PchipInterpolator(times, frames, extrapolate=False)

    def _by_way(self, times: FloatArray) -> FloatArray:
        """Frames at times: the hand starts and stops softly going back, speeds up evenly coming
        down until it has its full speed, and slows down to the end."""
        frames, way = self.swing.way
        marks = np.interp(self.swing.frames, frames, way)
        back, down, through = np.diff(self.knots)
        u = np.clip((times - self.knots[0]) / back, 0.0, 1.0)
        come = (marks[1] - marks[0]) * u**3 * (10.0 - 15.0 * u + 6.0 * u**2)
        u = np.clip((times - self.knots[1]) / down, 0.0, 1.0)
        full = 1.0 - 0.5 * _SPEEDING_UP
        come += (
            (marks[2] - marks[1])
            / full
            * np.where(u < _SPEEDING_UP, 0.5 * u**2 / _SPEEDING_UP, u - 0.5 * _SPEEDING_UP)
        )
        speed = (marks[2] - marks[1]) / full / down
        u = np.clip((times - self.knots[2]) / through, 0.0, 1.0)
        power = max(speed * through / (marks[3] - marks[2]), 1.5)
        come += (marks[3] - marks[2]) * (1.0 - (1.0 - u) ** power)
        return np.interp(come + marks[0], way, frames)

    def joints(self, times: FloatArray) -> FloatArray:
        """Joints in anatomical order, metres."""
        return to_anatomical(self.canonical_joints(times), self.handedness)

    def canonical_joints(self, times: FloatArray) -> FloatArray:
        """Joints of shape (n, N_POINTS, 3) as a right-hander's, faults put on."""
        times = np.asarray(times, dtype=float)
        joints = self._placed(times)
        return put_on(joints, self._coordinate(times), self.faults)

    def _placed(self, times: FloatArray) -> FloatArray:
        """Legs and upper body scaled apart, hips where the legs bring them."""
        held = np.clip(times, 0.0, self.duration)
        joints = self.swing.at(self._frames(held))
        hips = joints[:, [Point.MID_HIP]].copy()
        moved = hips * self.body.legs
        joints[:, _LOWER] *= self.body.legs
        joints[:, _UPPER] = moved + self.body.trunk * (joints[:, _UPPER] - hips)
        return np.asarray(joints * self.body.stature)

    def _coordinate(self, times: FloatArray) -> FloatArray:
        """Position coordinate by the clean motion's own positions."""
        known = np.isfinite(self._clean_times)
        numbers = np.arange(1.0, 11.0)[known]
        return np.interp(times, self._clean_times[known], numbers, left=0.0, right=11.0)

    @cached_property
    def _clean_times(self) -> FloatArray:
        return self._positions(self._placed(self._clock))

    @cached_property
    def _clock(self) -> FloatArray:
        return np.arange(0.0, self.duration, _STEP)

    @cached_property
    def position_times(self) -> FloatArray:
        """Times of P1 to P10 by the catalogue's words, as those of simulated swings
        (:mod:`training.simulator.true_positions`), shape (10,), seconds; impact is the file's own.
        What needs the club is stood in for where the file has none (:attr:`stood_in`)."""
        return self._positions(self.canonical_joints(self._clock))

    def _positions(self, joints: FloatArray) -> FloatArray:
        found = np.full(10, np.nan)
        start, _, impact, _ = (int(k / _STEP) for k in self.knots)
        lead = joints[:, Point.LEAD_WRIST] - joints[:, Point.LEAD_SHOULDER]
        trail = joints[:, Point.TRAIL_WRIST, 1] - joints[:, Point.TRAIL_SHOULDER, 1]
        swept = np.degrees(np.unwrap(np.arctan2(lead[:, 0], -lead[:, 1])))
        top = start + top_frame(lead[start:impact])
        club = np.isfinite(joints[0, Point.CLUBHEAD, 0])
        hands = 0.5 * (joints[:, Point.LEAD_WRIST] + joints[:, Point.TRAIL_WRIST])
        near = _IN_PLACE * self._stature
        leaving = np.stack([hands, joints[:, Point.CLUBHEAD]], 1)[start : top + 1]
        left = start + takeaway_frame(leaving, near if club else _HANDS_FOR_CLUB * near)
        found[[_P1, _P4, _P7]] = left * _STEP, top * _STEP, self.knots[2]
        found[_P3] = _crossing(lead[:, 1], start, top, last=True)
        found[_P5] = _crossing(-lead[:, 1], top, impact, last=True)
        found[_P9] = _crossing(trail, impact, len(trail))
        if club:
            shaft = joints[:, Point.CLUBHEAD, 1] - joints[:, Point.GRIP_END, 1]
            found[_P2] = _crossing(shaft, start, top)
            found[_P6] = _crossing(-shaft, top, impact, last=True)
            found[_P8] = _crossing(shaft, impact, len(shaft))
        else:
            found[_P2] = _crossing(_STAND_INS[_P2] - swept, start, top)
            found[_P6] = _crossing(swept - _STAND_INS[_P6], top, impact, last=True)
            found[_P8] = _crossing(swept - _STAND_INS[_P8], impact, len(swept))
        through = impact if np.isnan(found[_P9]) else int(found[_P9] / _STEP)
        found[_P10] = finish_frame(hands, (top, impact, through), near) * _STEP
        return found


def _crossing(signal: FloatArray, first: int, end: int, *, last: bool = False) -> float:
    """Time at which a signal rises through zero between two samples; NaN if it doesn't."""
    part = signal[first:end]
    hits = np.flatnonzero((part[:-1] < 0.0) & (part[1:] >= 0.0))
    if not hits.size:
        return float("nan")
    k = first + int(hits[-1 if last else 0])
    return float(_STEP * (k + signal[k] / (signal[k] - signal[k + 1])))


def random_replay(rng: np.random.Generator, swing: Captured, faults: dict[str, float]) -> Replayed:
    """A captured swing on a drawn body at a drawn tempo."""
    back = float(rng.uniform(2.8, 4.4))
    down = float(rng.uniform(0.22, 0.34))
    start = float(rng.uniform(0.4, 1.0))
    top = start + back * down
    through = float(rng.uniform(0.5, 0.9)) * (1.0 if np.isnan(swing.rate) else _RECOILED)
    end = top + down + through
    body = Body(*(float(v) for v in rng.uniform([0.85, 0.95, 0.95], [1.1, 1.05, 1.05])))
    hand = Handedness.LEFT if rng.random() < 0.1 else Handedness.RIGHT
    after = float(rng.uniform(0.3, 0.9))
    duration = end + (after if np.isnan(swing.rate) else 0.0)  # nobody stops dead in a recoil
    return Replayed(swing, body, hand, (start, top, top + down, end), duration, faults)


def replayed(seed: int, number: int) -> Iterator[Clip]:
    """One captured swing played again and filmed from both sides, from each distance in turn."""
    rng = np.random.default_rng([seed, 8, number])
    swings = captured()
    faults = random_faults(rng)
    motion = random_replay(rng, swings[number % len(swings)], faults)
    distance = DISTANCES[(number // len(swings)) % len(DISTANCES)]
    for view in View:
        footage = _footage(rng, club=Point.CLUBHEAD in motion.swing.seen)
        camera = Camera.standing(
            view,
            distance=distance,
            height=float(rng.uniform(1.0, 1.4)),
            yaw=float(rng.uniform(-3.0, 3.0)),
            roll=float(rng.uniform(-1.0, 1.0)),
        )
        step = 1.0 / footage.rate
        times = np.arange(rng.uniform(0.0, step), motion.duration, step)
        recording = film(motion, camera, times=times, noise=footage.noise, rng=rng, tell=True)
        yield Clip(
            motion,
            with_layout(recording, footage),
            float(times[0]),
            footage,
            view,
            not faults,
            f"{distance:g} m",
            motion.stood_in,
        )


def _footage(rng: np.random.Generator, *, club: bool) -> Footage:
    level = float(np.exp(rng.uniform(*np.log((0.12, 0.35)))))
    seen = club and bool(rng.random() < 0.6)
    return Footage(
        rate=float(rng.choice([30.0, 60.0, 120.0])),
        noise=EstimatorNoise(level, float(rng.uniform(0.0, 0.3)), 0.03, 0.03, seen),
        layout=str(rng.choice(["landmarks_33", "halpe_26", "coco_17"])),
        club=seen,
        uneven=0.0,
        dropped=0.0,
        tell_view=bool(rng.random() < 0.7),
    )
