"""Where estimators and their libraries go astray on footage that is fine itself."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Final

import numpy as np
from scipy.ndimage import uniform_filter1d

from service.analysis.pose.points import Point, swap_sides
from service.analysis.types import SwingAnalysis, SwingRecording
from tests.reference.perturbations.change import (
    ARMS,
    FEET,
    LEGS,
    Change,
    Film,
    Perturbation,
    height,
    place,
    shown,
    step,
)

_GUESSED: Final = 0.4
"""Confidence of joints that are hidden and guessed."""


def _one_euro(least: float, growth: float) -> Change:
    """Through a filter that lets through the more the faster a joint goes (Casiez et al. 2012, from
    memory): cut-offs from ``least`` Hz, and ``growth`` Hz more a body height a second."""

    def change(seen: SwingRecording, _: SwingAnalysis, __: np.random.Generator) -> SwingRecording:
        points, dt, size = seen.points.copy(), step(seen), height(seen)
        pace = np.zeros_like(points[0])
        for k in range(1, len(points)):
            gone = np.nan_to_num(points[k] - points[k - 1]) / dt
            pace += _weight(1.0, dt) * (gone - pace)
            share = _weight(least + growth * np.abs(pace) / size, dt)
            eased = points[k - 1] + share * (points[k] - points[k - 1])
            points[k] = np.where(np.isnan(eased), points[k], eased)
        return replace(seen, points=points)

    return change


def _weight(hertz: float | np.ndarray, dt: float) -> float | np.ndarray:
    return 1.0 / (1.0 + 1.0 / (2.0 * np.pi * hertz * dt))


def _mean_of(count: int) -> Change:
    """Each place the mean of so many frames about it."""
    return lambda seen, _, __: replace(
        seen, points=uniform_filter1d(seen.points, count, axis=0, mode="nearest")
    )


def _jumping(share: float, beside: float) -> Change:
    """In some frames somebody who stands beside the player is followed."""

    def change(seen: SwingRecording, _: SwingAnalysis, rng: np.random.Generator) -> SwingRecording:
        there = rng.random(len(seen.times)) < share
        other = swap_sides(seen.points[:1])[0] * np.array([-1.0, 1.0])
        other += np.nanmean(seen.points[0], axis=0) - np.nanmean(other, axis=0)
        points = seen.points.copy()
        points[there] = other + height(seen) * np.array([beside, 0.0])
        return replace(seen, points=points)

    return change


def _held(first: bool, seconds: float) -> Change:
    """The first or the last frame is shown for so long, as editors do."""

    def change(seen: SwingRecording, _: SwingAnalysis, __: np.random.Generator) -> Film:
        more, count = int(seconds / step(seen)), len(seen.times)
        own = np.arange(count, dtype=float)
        held = np.zeros(more) if first else np.full(more, count - 1.0)
        return shown(seen, np.concatenate([held, own] if first else [own, held]))

    return change


def _at_odd_times(share: float) -> Change:
    """Frames that are even, told at times off by shares of a frame."""

    def change(seen: SwingRecording, _: SwingAnalysis, rng: np.random.Generator) -> Film:
        off = share * np.diff(seen.times).min() * rng.uniform(-1.0, 1.0, len(seen.times))
        off[0] = 0.0
        return Film(replace(seen, times=seen.times + off), seen.times)

    return change


def _late(joints: list[Point], count: int) -> Change:
    """Some joints come so many frames late, as from a second model that looks at a crop."""

    def change(seen: SwingRecording, _: SwingAnalysis, __: np.random.Generator) -> SwingRecording:
        points = seen.points.copy()
        points[count:, joints] = seen.points[:-count, joints]
        points[:count, joints] = seen.points[0, joints]
        return replace(seen, points=points)

    return change


def _at_the_edge(number: Point, above: float) -> Change:
    """What lies so many body heights above a point's usual place (below, where negative) is out of
    the picture and told at its edge."""

    def change(seen: SwingRecording, _: SwingAnalysis, __: np.random.Generator) -> SwingRecording:
        edge = np.nanmedian(seen.points[:, [number, number + 1], 1]) - above * height(seen)
        points = seen.points.copy()
        within = np.maximum if above > 0.0 else np.minimum
        points[..., 1] = within(points[..., 1], edge)
        return replace(seen, points=points)

    return change


def _guessed(joints: list[Point], off: float) -> Change:
    """Joints behind a bag: off by a steady and a drifting error, and unsure."""

    def change(seen: SwingRecording, _: SwingAnalysis, rng: np.random.Generator) -> SwingRecording:
        points, sure = seen.points.copy(), seen.confidence.copy()
        drift = (
            uniform_filter1d(rng.normal(size=(len(points), len(joints), 2)), 15, axis=0) * 15**0.5
        )
        steady = rng.normal(size=(1, len(joints), 2))
        points[:, joints] += off * height(seen) * (steady + drift)
        sure[:, joints] = np.minimum(sure[:, joints], _GUESSED)
        return replace(seen, points=points, confidence=sure)

    return change


def _club_at_the_foot(
    seen: SwingRecording, said: SwingAnalysis, _: np.random.Generator
) -> SwingRecording:
    """From P5 to P7 the lead foot is taken for the clubhead."""
    points = seen.points.copy()
    first, last = place(seen, said, 5), place(seen, said, 7)
    club = points[first:last, Point.CLUBHEAD]
    points[first:last, Point.CLUBHEAD] = np.where(
        np.isnan(club), np.nan, points[first:last, Point.LEAD_ANKLE]
    )
    return replace(seen, points=points)


_HANDS: Final = [p for p in ARMS if "ELBOW" not in p.name]
STRAYED: Final[Mapping[str, Perturbation]] = {
    "through a one-euro filter": Perturbation(_one_euro(1.0, 5.0)),
    "each place the mean of five": Perturbation(_mean_of(5)),
    "another in one frame of ten": Perturbation(_jumping(0.1, 0.8)),
    "another near in one frame of ten": Perturbation(_jumping(0.1, 0.25)),
    "first frame shown for a second": Perturbation(_held(True, 1.0)),
    "last frame shown for a second": Perturbation(_held(False, 1.0)),
    "told at times 0.4 frames off": Perturbation(_at_odd_times(0.4)),
    "hands a frame late": Perturbation(_late(_HANDS, 1)),
    "legs two frames late": Perturbation(_late(LEGS, 2)),
    "hands at the picture's upper edge": Perturbation(_at_the_edge(Point.LEAD_SHOULDER, 0.1)),
    "feet at the picture's lower edge": Perturbation(_at_the_edge(Point.LEAD_KNEE, -0.12)),
    "legs guessed, 2 %": Perturbation(_guessed(LEGS, 0.02)),
    "feet guessed, 3 %": Perturbation(_guessed(FEET, 0.03)),
    "clubhead at the lead foot, P5 to P7": Perturbation(_club_at_the_foot),
}
