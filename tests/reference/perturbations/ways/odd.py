"""Footage as it should not be: films cut, slowed and copied, pictures bent, cropped and coarse."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Final

import numpy as np

from service.analysis.pose.points import Point, swap_sides
from service.analysis.types import FloatArray, SwingAnalysis, SwingRecording
from tests.reference.perturbations.change import (
    ARMS,
    LEGS,
    SIDED,
    Change,
    Film,
    Perturbation,
    again,
    exchanged,
    frames,
    height,
    losing,
    place,
    shown,
    squeezed,
    step,
    tilted,
)

_ELBOWS: Final = [Point.LEAD_ELBOW, Point.TRAIL_ELBOW]
_HANDS: Final = [p for p in ARMS if p not in _ELBOWS]
_UPPER: Final = [p for p in Point if p not in LEGS and "HIP" not in p.name]


def _slowed(first: int | None, last: int | None, times: float) -> Change:
    """From one position to another the film plays so many times slower; untold."""

    def change(seen: SwingRecording, said: SwingAnalysis, _: np.random.Generator) -> Film:
        count = len(seen.times)
        begin = 0 if first is None else place(seen, said, first)
        end = count if last is None else place(seen, said, last)
        frame = np.arange(count)
        pace = np.where((frame >= begin) & (frame < end), times, 1.0)
        played = np.concatenate([[0.0], np.cumsum(pace[:-1])])
        return shown(seen, np.interp(np.arange(played[-1] + 0.5), played, frame))

    return change


def _twice(seen: SwingRecording, _: SwingAnalysis, __: np.random.Generator) -> Film:
    """Each frame twice, at twice the rate."""
    again = np.repeat(np.arange(len(seen.times)), 2)
    doubled = replace(frames(seen, again), times=np.arange(len(again)) * step(seen) / 2)
    return Film(doubled, seen.times[again])


def _doubled(first: int | None, last: int) -> Change:
    """From one position to another each frame is shown twice, so that it plays at half speed."""

    def change(seen: SwingRecording, said: SwingAnalysis, _: np.random.Generator) -> Film:
        count = len(seen.times)
        begin = 0 if first is None else place(seen, said, first)
        again = (np.arange(count) >= begin) & (np.arange(count) < place(seen, said, last))
        order = np.repeat(np.arange(count), np.where(again, 2, 1))
        return shown(seen, order.astype(float))

    return change


def _stuttering(seen: SwingRecording, _: SwingAnalysis, rng: np.random.Generator) -> Film:
    """One frame in five shows the one before again."""
    own = np.arange(len(seen.times))
    order = np.where((rng.random(len(own)) < 0.2) & (own > 0), own - 1, own)
    return Film(replace(frames(seen, order), times=seen.times), seen.times[order])


def _dropped(share: float, *, told: bool) -> Change:
    """Some frames are lacking; the times say so or go on evenly."""

    def change(seen: SwingRecording, _: SwingAnalysis, rng: np.random.Generator) -> Film:
        kept = np.flatnonzero(rng.random(len(seen.times)) >= share)
        left = frames(seen, kept)
        even = np.linspace(seen.times[0], seen.times[-1], len(kept))
        return Film(left if told else replace(left, times=even), seen.times[kept])

    return change


def _standing(seconds: float) -> Change:
    """The player stands before and after as in the first and last frame."""

    def change(seen: SwingRecording, _: SwingAnalysis, rng: np.random.Generator) -> Film:
        more = int(seconds / step(seen))
        film = shown(
            seen,
            np.repeat(
                np.arange(len(seen.times)), [more + 1, *[1] * (len(seen.times) - 2), more + 1]
            ).astype(float),
        )
        trembling = rng.normal(0.0, 0.003 * height(seen), film.recording.points.shape)
        return replace(
            film, recording=replace(film.recording, points=film.recording.points + trembling)
        )

    return change


def _waggling(seen: SwingRecording, _: SwingAnalysis, __: np.random.Generator) -> Film:
    """Three seconds in which the hands go to and fro before the swing."""
    more = int(3.0 / step(seen))
    film = shown(seen, np.concatenate([np.zeros(more), np.arange(len(seen.times))]))
    turn = 2.0 * np.pi * 1.2 * np.arange(more) * step(seen)
    swing = height(seen) * np.column_stack([0.05 * np.sin(turn), -0.025 * (1.0 - np.cos(turn))])
    points = film.recording.points.copy()
    points[:more, _HANDS] += swing[:, None]
    points[:more, _ELBOWS] += 0.5 * swing[:, None]
    return Film(replace(film.recording, points=points), film.clock)


def _moved(by: Callable[[FloatArray], FloatArray]) -> Change:
    """The picture moves and grows: ``by`` takes shares of the clip, shape (n, 1, 1), and gives
    body heights, or a factor, of shape (n, 1, 2) or (n, 1, 1)."""

    def change(seen: SwingRecording, _: SwingAnalysis, __: np.random.Generator) -> SwingRecording:
        gone = np.linspace(0.0, 1.0, len(seen.times))[:, None, None]
        return replace(seen, points=seen.points + height(seen) * by(gone))

    return change


def _zoomed(by: float, first: int | None = None, last: int | None = None) -> Change:
    """The picture grows by a share through the clip, or from one position to another."""

    def change(seen: SwingRecording, said: SwingAnalysis, _: np.random.Generator) -> SwingRecording:
        begin = 0 if first is None else place(seen, said, first)
        end = len(seen.times) - 1 if last is None else place(seen, said, last)
        at = [begin, max(end, begin + 1)]
        gone = np.interp(np.arange(len(seen.times)), at, [0.0, 1.0])[:, None, None]
        middle = np.nanmedian(seen.points, axis=(0, 1))
        return replace(seen, points=middle + (seen.points - middle) * (1.0 + by * gone))

    return change


def _swaying(along: float) -> Change:
    """A hand-held camera goes to and fro by so many body heights, twice a second."""

    def change(seen: SwingRecording, _: SwingAnalysis, __: np.random.Generator) -> SwingRecording:
        turn = 2.0 * np.pi * 2.0 * seen.times[:, None, None]
        off = (
            along * height(seen) * np.concatenate([np.sin(turn), 0.6 * np.cos(1.3 * turn)], axis=2)
        )
        return replace(seen, points=seen.points + off)

    return change


def _coarse(share: float) -> Change:
    """Places on a grid of so many body heights."""

    def change(seen: SwingRecording, _: SwingAnalysis, __: np.random.Generator) -> SwingRecording:
        grid = share * height(seen)
        return replace(seen, points=np.round(seen.points / grid) * grid)

    return change


def _sure(value: float) -> Change:
    """Every point that is there as sure as all others."""
    return lambda seen, _, __: replace(
        seen, confidence=np.where(np.isnan(seen.points[..., 0]), 0.0, value)
    )


def _above(number: Point, by: float) -> Change:
    """What lies so many body heights above a point's usual place is out of the picture."""

    def change(seen: SwingRecording, _: SwingAnalysis, __: np.random.Generator) -> SwingRecording:
        limit = np.nanmedian(seen.points[:, [number, number + 1], 1]) - by * height(seen)
        return losing(seen, seen.points[..., 1] < limit)

    return change


def _below(number: Point, by: float) -> Change:
    def change(seen: SwingRecording, _: SwingAnalysis, __: np.random.Generator) -> SwingRecording:
        limit = np.nanmedian(seen.points[:, [number, number + 1], 1]) + by * height(seen)
        return losing(seen, seen.points[..., 1] > limit)

    return change


def _all_through(joints: list[Point]) -> Change:
    """Left and right of some joints exchanged in the whole clip."""

    def change(seen: SwingRecording, _: SwingAnalysis, __: np.random.Generator) -> SwingRecording:
        return exchanged(seen, joints)

    return change


def _in_place_of(first: Point, second: Point) -> Change:
    """Two points exchanged in the whole clip, as where they are sent in a wrong order."""

    def change(seen: SwingRecording, _: SwingAnalysis, __: np.random.Generator) -> SwingRecording:
        points, confidence = seen.points.copy(), seen.confidence.copy()
        points[:, [first, second]] = points[:, [second, first]]
        confidence[:, [first, second]] = confidence[:, [second, first]]
        return replace(seen, points=points, confidence=confidence)

    return change


def _frozen(first: int, count: int, joints: list[Point]) -> Change:
    """From a position on some joints rest where they were for some frames."""

    def change(seen: SwingRecording, said: SwingAnalysis, _: np.random.Generator) -> SwingRecording:
        begin = place(seen, said, first)
        points = seen.points.copy()
        points[begin : begin + count, joints] = points[begin, joints]
        return replace(seen, points=points)

    return change


def _another(first: int | None, last: int | None, beside: float) -> Change:
    """From one position up to another the estimator follows somebody who stands beside the player,
    a tenth smaller: as the player at address, the other way round."""

    def change(
        seen: SwingRecording, said: SwingAnalysis, rng: np.random.Generator
    ) -> SwingRecording:
        begin = 0 if first is None else place(seen, said, first)
        end = len(seen.times) if last is None else place(seen, said, last)
        pose = swap_sides(seen.points[:1])[0] * np.array([-1.0, 1.0])
        pose = 0.9 * (pose - np.nanmean(pose, axis=0)) + np.nanmean(seen.points[0], axis=0)
        points = seen.points.copy()
        points[begin:end] = pose + height(seen) * (
            np.array([beside, 0.0]) + rng.normal(0.0, 0.004, points[begin:end].shape)
        )
        return replace(seen, points=points)

    return change


def _seated(seen: SwingRecording, _: SwingAnalysis, __: np.random.Generator) -> SwingRecording:
    """The player sits: hips, and all above them, nine tenths of a thigh lower."""
    points = seen.points.copy()
    thigh = np.nanmedian(
        points[:, [Point.LEAD_KNEE, Point.TRAIL_KNEE], 1]
        - points[:, [Point.LEAD_HIP, Point.TRAIL_HIP], 1]
    )
    points[:, [p for p in Point if p not in LEGS], 1] += 0.9 * (
        thigh if np.isfinite(thigh) else 0.0
    )
    return replace(seen, points=points)


def _drifting_apart(
    seen: SwingRecording, _: SwingAnalysis, rng: np.random.Generator
) -> SwingRecording:
    """Each joint off by 2 % of body height all through the clip."""
    off = rng.normal(0.0, 0.02 * height(seen), (1, *seen.points.shape[1:]))
    return replace(seen, points=seen.points + off)


ODD: Final[Mapping[str, Perturbation]] = {
    "played as 120 a second": Perturbation(
        lambda s, _, __: Film(replace(s, times=s.times / 4), s.times)
    ),
    "played as 60 a second": Perturbation(
        lambda s, _, __: Film(replace(s, times=s.times / 2), s.times)
    ),
    "played as 7.5 a second": Perturbation(
        lambda s, _, __: Film(replace(s, times=s.times * 4), s.times)
    ),
    "half speed, P4 to P7": Perturbation(_slowed(4, 7, 2.0)),
    "half speed from P4 on": Perturbation(_slowed(4, None, 2.0)),
    "half speed up to P4": Perturbation(_slowed(None, 4, 2.0)),
    "each frame twice up to P4": Perturbation(_doubled(None, 4)),
    "quarter speed, P5 to P8": Perturbation(_slowed(5, 8, 4.0)),
    "quarter speed up to P4": Perturbation(_slowed(None, 4, 4.0)),
    "each frame twice": Perturbation(_twice),
    "one frame in five stands still": Perturbation(_stuttering),
    "one frame in six lacking, told": Perturbation(_dropped(1 / 6, told=True)),
    "one frame in six lacking": Perturbation(_dropped(1 / 6, told=False)),
    "one frame in three lacking": Perturbation(_dropped(1 / 3, told=False)),
    "stands 20 s before and after": Perturbation(_standing(20.0)),
    "swings twice": Perturbation(lambda s, _, __: again(s, 1.5)),
    "waggles before": Perturbation(_waggling),
    "panned 40 %": Perturbation(_moved(lambda gone: gone * np.array([0.4, 0.05]))),
    "zoomed 20 %": Perturbation(_zoomed(0.2)),
    "zoomed out 20 %": Perturbation(_zoomed(-0.2)),
    "zoomed 20 %, P1 to P7": Perturbation(_zoomed(0.2, 1, 7)),
    "zoomed out 20 %, P1 to P7": Perturbation(_zoomed(-0.2, 1, 7)),
    "swaying 2 %": Perturbation(_swaying(0.02)),
    "on a grid of 1 %": Perturbation(_coarse(0.01)),
    "on a grid of 2 %": Perturbation(_coarse(0.02)),
    "all sure": Perturbation(_sure(1.0)),
    "all half sure": Perturbation(_sure(0.5)),
    "all hardly sure": Perturbation(_sure(0.25)),
    "three quarters of its width": Perturbation(squeezed(0.75)),
    "half of its width": Perturbation(squeezed(9 / 16)),
    "four thirds of its width": Perturbation(squeezed(4 / 3)),
    "1.8 times its width": Perturbation(squeezed(16 / 9)),
    "hands out of the picture at the top": Perturbation(_above(Point.LEAD_SHOULDER, 0.12)),
    "cut below the knees": Perturbation(_below(Point.LEAD_KNEE, 0.02)),
    "cut below the hips": Perturbation(_below(Point.LEAD_HIP, 0.03)),
    "no elbows": Perturbation(lambda s, _, __: losing(s, _mask(s, _ELBOWS))),
    "sides exchanged all through": Perturbation(_all_through(SIDED)),
    "arms exchanged all through": Perturbation(_all_through(ARMS)),
    "legs exchanged all through": Perturbation(_all_through(LEGS)),
    "left shoulder and elbow exchanged": Perturbation(
        _in_place_of(Point.LEAD_SHOULDER, Point.LEAD_ELBOW)
    ),
    "right knee and ankle exchanged": Perturbation(
        _in_place_of(Point.TRAIL_KNEE, Point.TRAIL_ANKLE)
    ),
    "hands rest 6 frames from P4": Perturbation(_frozen(4, 6, _HANDS)),
    "arms rest 4 frames from P5": Perturbation(_frozen(5, 4, ARMS)),
    "another beside from P8 on": Perturbation(_another(8, None, 0.8)),
    "another beside up to P1": Perturbation(_another(None, 1, 0.8)),
    "another beside, P4 to P5": Perturbation(_another(4, 5, 0.8)),
    "another near from P8 on": Perturbation(_another(8, None, 0.2)),
    "seated": Perturbation(_seated),
    "tilted 12 degrees": Perturbation(tilted(12.0)),
    "tilted -12 degrees": Perturbation(tilted(-12.0)),
    "each joint off by 2 %": Perturbation(_drifting_apart),
}


def _mask(seen: SwingRecording, joints: list[Point]) -> FloatArray:
    struck = np.zeros(seen.confidence.shape, dtype=bool)
    struck[:, joints] = True
    return struck
