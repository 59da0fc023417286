"""Changes such as set another clip of the same kind apart from a clip."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Final

import numpy as np

from service.analysis.pose.points import Point, swap_sides
from service.analysis.types import SwingAnalysis, SwingRecording
from tests.reference.perturbations.change import (
    ARMS,
    FEET,
    HEAD,
    LEGS,
    SIDED,
    Change,
    Film,
    Perturbation,
    frame_of,
    frames,
    height,
    losing,
    tilted,
)

_LOST_FRAMES: Final = 5
"""How long a joint is lost, or sides are exchanged."""
_UNSURE: Final = 0.3
"""Confidence of what an estimator no longer sees."""


def _later(share: float) -> Change:
    """The start cut off, at most halfway from the start of the swing to its top."""

    def change(seen: SwingRecording, said: SwingAnalysis, _: np.random.Generator) -> SwingRecording:
        start, top = frame_of(said, 1), frame_of(said, 4)
        least = len(seen.times) if top is None else ((start or 0.0) + top) / 2
        return frames(seen, slice(int(min(share * len(seen.times), least)), None))

    return change


def _earlier(share: float) -> Change:
    """The end cut off, at most halfway from impact to the end of the swing."""

    def change(seen: SwingRecording, said: SwingAnalysis, _: np.random.Generator) -> SwingRecording:
        impact, end = frame_of(said, 7), frame_of(said, 10) or len(seen.times)
        most = 0.0 if impact is None else (impact + end) / 2
        return frames(seen, slice(None, int(max((1.0 - share) * len(seen.times), most)) + 1))

    return change


def _at_rate(faster: float) -> Change:
    return lambda seen, _, __: Film(replace(seen, times=seen.times / faster), seen.times)


def _resampled(fps: float) -> Change:
    """The same film at another frame rate, joints between frames on straight lines."""

    def change(seen: SwingRecording, _: SwingAnalysis, __: np.random.Generator) -> SwingRecording:
        times = np.arange(seen.times[0], seen.times[-1] + 1e-9, 1.0 / fps)
        at = np.interp(times, seen.times, np.arange(len(seen.times)))
        before, share = np.floor(at).astype(int), at % 1.0
        after = np.minimum(before + 1, len(seen.times) - 1)
        w = share[:, None]
        return replace(
            seen,
            points=(1 - w[..., None]) * seen.points[before] + w[..., None] * seen.points[after],
            confidence=np.minimum(seen.confidence[before], seen.confidence[after]),
            times=times,
        )

    return change


def _jitter(share: float, held: int = 1) -> Change:
    """Each joint off by ``share`` of body height on each axis, anew every ``held`` frames."""

    def change(seen: SwingRecording, _: SwingAnalysis, rng: np.random.Generator) -> SwingRecording:
        count, joints, _ = seen.points.shape
        knots = rng.normal(0.0, share * height(seen), (count // held + 2, joints, 2))
        at = np.arange(count) / held
        before, w = at.astype(int), (at % 1.0)[:, None, None]
        off = knots[before] if held == 1 else (1 - w) * knots[before] + w * knots[before + 1]
        return replace(seen, points=seen.points + off)

    return change


def _without(*joints: Point) -> Change:
    def change(seen: SwingRecording, _: SwingAnalysis, __: np.random.Generator) -> SwingRecording:
        lost = np.zeros(seen.confidence.shape, dtype=bool)
        lost[:, list(joints)] = True
        return losing(seen, lost)

    return change


def _stretches(seen: SwingRecording, joints: list[Point], count: int, rng: np.random.Generator):
    """Which joint is struck in which frame: ``count`` stretches of :data:`_LOST_FRAMES` each."""
    struck = np.zeros(seen.confidence.shape, dtype=bool)
    there = [j for j in joints if np.isfinite(seen.points[:, j, 0]).any()]
    for joint in rng.choice(there, count) if there else ():
        first = int(rng.integers(max(1, len(seen.times) - _LOST_FRAMES)))
        struck[first : first + _LOST_FRAMES, joint] = True
    return struck


def _lost(joints: list[Point], count: int) -> Change:
    return lambda seen, _, rng: losing(seen, _stretches(seen, joints, count, rng))


def _unsure_wrist(wrist: Point, off: float) -> Change:
    """A wrist hardly seen from top to impact, and a guess ``off`` body heights from its place."""

    def change(
        seen: SwingRecording, said: SwingAnalysis, rng: np.random.Generator
    ) -> SwingRecording:
        top, impact = frame_of(said, 4), frame_of(said, 7)
        first, last = (0, len(seen.times)) if top is None else (int(top), int(impact or top) + 2)
        points, confidence = seen.points.copy(), seen.confidence.copy()
        angle = rng.uniform(0.0, 2.0 * np.pi)
        guess = off * height(seen) * np.array([np.cos(angle), np.sin(angle)])
        points[first:last, wrist] += guess
        confidence[first:last, wrist] = np.minimum(confidence[first:last, wrist], _UNSURE)
        return replace(seen, points=points, confidence=confidence)

    return change


def _one_place(seen: SwingRecording, _: SwingAnalysis, __: np.random.Generator) -> SwingRecording:
    """Both wrists where the right one is."""
    points = seen.points.copy()
    points[:, Point.LEAD_WRIST] = points[:, Point.TRAIL_WRIST]
    return replace(seen, points=points)


def _exchanged(joints: list[Point], count: int) -> Change:
    """Left and right of some joints exchanged for stretches."""

    def change(seen: SwingRecording, _: SwingAnalysis, rng: np.random.Generator) -> SwingRecording:
        struck = np.zeros(seen.confidence.shape, dtype=bool)
        for _ in range(count):
            first = int(rng.integers(max(1, len(seen.times) - _LOST_FRAMES)))
            struck[first : first + _LOST_FRAMES, joints] = True
        return replace(
            seen,
            points=np.where(struck[..., None], swap_sides(seen.points), seen.points),
            confidence=np.where(struck, swap_sides(seen.confidence), seen.confidence),
        )

    return change


def _mirrored(seen: SwingRecording, _: SwingAnalysis, __: np.random.Generator) -> SwingRecording:
    points, confidence = swap_sides(seen.points), swap_sides(seen.confidence)
    return replace(seen, points=points * np.array([-1.0, 1.0]), confidence=confidence)


def _scaled(seen: SwingRecording, _: SwingAnalysis, __: np.random.Generator) -> SwingRecording:
    return replace(seen, points=0.37 * seen.points + 500.0)


def _panned(along: float, grown: float = 0.0) -> Change:
    """The picture moves by ``along`` body heights over the clip and grows by a share."""

    def change(seen: SwingRecording, _: SwingAnalysis, __: np.random.Generator) -> SwingRecording:
        gone = np.linspace(0.0, 1.0, len(seen.times))[:, None, None]
        moved = gone * along * height(seen) * np.array([1.0, 0.3])
        return replace(seen, points=seen.points * (1.0 + grown * gone) + moved)

    return change


def _shaken(share: float) -> Change:
    """All joints off together by some share of body height, as in a hand that holds a camera."""

    def change(seen: SwingRecording, _: SwingAnalysis, rng: np.random.Generator) -> SwingRecording:
        off = rng.normal(0.0, share * height(seen), (len(seen.times), 1, 2))
        return replace(seen, points=seen.points + off)

    return change


def _lagging(share: float) -> Change:
    """Every joint follows by ``share`` of what is left from the frame before, as trackers do."""

    def change(seen: SwingRecording, _: SwingAnalysis, __: np.random.Generator) -> SwingRecording:
        points = seen.points.copy()
        for k in range(1, len(points)):
            step = points[k - 1] + share * (points[k] - points[k - 1])
            points[k] = np.where(np.isnan(step), points[k], step)
        return replace(seen, points=points)

    return change


def _unchanged(seen: SwingRecording, _: SwingAnalysis, __: np.random.Generator) -> SwingRecording:
    return seen


_LEFT, _RIGHT = Point.LEAD_WRIST, Point.TRAIL_WRIST
USUAL: Final[Mapping[str, Perturbation]] = {
    "as it is": Perturbation(_unchanged),
    "start 8 % later": Perturbation(_later(0.08)),
    "start 15 % later": Perturbation(_later(0.15)),
    "end 8 % earlier": Perturbation(_earlier(0.08)),
    "end 15 % earlier": Perturbation(_earlier(0.15)),
    "every second frame": Perturbation(lambda seen, _, __: frames(seen, slice(None, None, 2))),
    "played as 50 a second": Perturbation(_at_rate(5 / 3)),
    "played as 15 a second": Perturbation(_at_rate(0.5)),
    "sampled at 25 a second": Perturbation(_resampled(25.0)),
    "sampled at 60 a second": Perturbation(_resampled(60.0)),
    "jitter 0.5 %": Perturbation(_jitter(0.005)),
    "jitter 1 %": Perturbation(_jitter(0.01)),
    "wander 1 %": Perturbation(_jitter(0.01, held=5)),
    "ten joints lost a while": Perturbation(_lost(SIDED, 10)),
    "arms lost a while, four times": Perturbation(_lost(ARMS, 4)),
    "no head": Perturbation(_without(*HEAD)),
    "no feet": Perturbation(_without(*FEET)),
    "no legs": Perturbation(_without(*LEGS)),
    "left wrist unsure": Perturbation(_unsure_wrist(_LEFT, 0.0)),
    "right wrist unsure": Perturbation(_unsure_wrist(_RIGHT, 0.0)),
    "left wrist a bad guess": Perturbation(_unsure_wrist(_LEFT, 0.15)),
    "right wrist a bad guess": Perturbation(_unsure_wrist(_RIGHT, 0.15)),
    "wrists on one place": Perturbation(_one_place),
    "arms exchanged twice": Perturbation(_exchanged(ARMS, 2)),
    "legs exchanged twice": Perturbation(_exchanged(LEGS, 2)),
    "sides exchanged twice": Perturbation(_exchanged(SIDED, 2)),
    "mirrored": Perturbation(_mirrored, mirrored=True),
    "scaled": Perturbation(_scaled),
    "tilted 4 degrees": Perturbation(tilted(4.0)),
    "tilted -4 degrees": Perturbation(tilted(-4.0)),
    "panned 8 %": Perturbation(_panned(0.08)),
    "panned and zoomed 5 %": Perturbation(_panned(-0.05, 0.05)),
    "shaken 0.7 %": Perturbation(_shaken(0.007)),
    "lagging": Perturbation(_lagging(0.6)),
}
