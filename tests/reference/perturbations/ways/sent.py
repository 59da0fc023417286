"""What apps and senders make of good footage: places counted from elsewhere, smoothed, reshaped."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from itertools import pairwise
from typing import Final

import numpy as np

from service.analysis.pose.points import Point
from service.analysis.types import SwingAnalysis, SwingRecording
from tests.reference.perturbations.change import (
    Change,
    Film,
    Perturbation,
    box,
    height,
    place,
    shown,
    squeezed,
)


def _from_hips(seen: SwingRecording, _: SwingAnalysis, __: np.random.Generator) -> SwingRecording:
    """Places counted from the middle of the hips."""
    hips = seen.points[:, [Point.LEAD_HIP, Point.TRAIL_HIP]].mean(axis=1, keepdims=True)
    return replace(seen, points=seen.points - hips)


def _cut_out(*, scaled: bool, loose: float = 0.0) -> Change:
    """Places in each frame's own piece of the picture, square about the player or from its corner;
    ``loose`` is by how much of the body's extent its sides miss the body's, at random."""

    def change(seen: SwingRecording, _: SwingAnalysis, rng: np.random.Generator) -> SwingRecording:
        least, largest = box(seen)
        extent = np.maximum.reduce(largest - least, axis=2, keepdims=True)
        off = [loose * extent * rng.normal(size=least.shape) for _ in range(2)] if loose else (0, 0)
        least, largest = least + off[0], largest + off[1]
        if not scaled:
            return replace(seen, points=seen.points - least)
        side = 1.25 * np.maximum.reduce(largest - least, axis=2, keepdims=True)
        return replace(seen, points=256.0 * (seen.points - 0.5 * (least + largest)) / side)

    return change


def _zoomed_at_once(by: float, number: int) -> Change:
    """From a position on the picture is larger by a share."""

    def change(seen: SwingRecording, said: SwingAnalysis, _: np.random.Generator) -> SwingRecording:
        middle = np.nanmedian(seen.points, axis=(0, 1))
        late = np.arange(len(seen.times)) >= place(seen, said, number)
        factor = np.where(late, 1.0 + by, 1.0)[:, None, None]
        return replace(seen, points=middle + (seen.points - middle) * factor)

    return change


def _eased(seen: SwingRecording, said: SwingAnalysis, _: np.random.Generator) -> Film:
    """Slow motion that sets in and ends gradually about P4 and P8, at a third of the speed."""
    top, after = place(seen, said, 4), place(seen, said, 8)
    about = [top - 3, top + 3, max(after, top + 3), max(after, top + 3) + 4]
    pace = np.interp(np.arange(len(seen.times)), about, [1.0, 3.0, 3.0, 1.0])
    played = np.concatenate([[0.0], np.cumsum(pace[:-1])])
    return shown(seen, np.interp(np.arange(played[-1] + 0.5), played, np.arange(len(played))))


def _uneven(seen: SwingRecording, _: SwingAnalysis, rng: np.random.Generator) -> Film:
    """Frames by an unsteady clock, half a frame early to half a frame late, told as even."""
    own = np.cumsum(rng.uniform(0.5, 1.5, len(seen.times)))
    film = shown(seen, np.interp(own, own[[0, -1]], [0.0, len(own) - 1.0]))
    return replace(film, recording=replace(film.recording, times=seen.times))


def _trailing(share: float) -> Change:
    """Each place is a share of the one measured and the rest of the one before, as apps smooth."""

    def change(seen: SwingRecording, _: SwingAnalysis, __: np.random.Generator) -> SwingRecording:
        points = seen.points.copy()
        for before, after in pairwise(points):
            known = np.isfinite(before) & np.isfinite(after)
            after[known] = share * after[known] + (1.0 - share) * before[known]
        return replace(seen, points=points)

    return change


def _bulging(by: float) -> Change:
    """As through a lens that bends lines: farther from the middle by a share a body height off."""

    def change(seen: SwingRecording, _: SwingAnalysis, __: np.random.Generator) -> SwingRecording:
        middle = np.nanmedian(seen.points, axis=(0, 1))
        off = seen.points - middle
        far = (off**2).sum(axis=-1, keepdims=True) / height(seen) ** 2
        return replace(seen, points=middle + off * (1.0 + by * far))

    return change


SENT: Final[Mapping[str, Perturbation]] = {
    "counted from the hips": Perturbation(_from_hips),
    "counted from each frame's corner": Perturbation(_cut_out(scaled=False)),
    "each frame cut out": Perturbation(_cut_out(scaled=True)),
    "each frame cut out loosely": Perturbation(_cut_out(scaled=True, loose=0.02)),
    "zoomed 15 % at once at P4": Perturbation(_zoomed_at_once(0.15, 4)),
    "third of the speed, eased, P4 to P8": Perturbation(_eased),
    "by an unsteady clock": Perturbation(_uneven),
    "each place half of the one before": Perturbation(_trailing(0.5)),
    "bulging out 15 %": Perturbation(_bulging(-0.15)),
    "bulging in 15 %": Perturbation(_bulging(0.15)),
    "upright taken for lying, 9 : 16": Perturbation(squeezed((16 / 9) ** 2)),
    "lying taken for upright, 16 : 9": Perturbation(squeezed((9 / 16) ** 2)),
}
