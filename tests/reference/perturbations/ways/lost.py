"""Joints that a source lost, and what it tells in their place; films that run back, mirrors."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Final

import numpy as np

from service.analysis.pose.points import Point, swap_sides
from service.analysis.types import SwingAnalysis, SwingRecording
from tests.reference.perturbations.change import (
    ARMS,
    HEAD,
    SIDED,
    Change,
    Film,
    Perturbation,
    exchanged,
    frames,
    height,
    place,
    plays_left,
    step,
)

_FOOT: Final = ("ANKLE", "HEEL", "TOE", "SMALL_TOE")
_HAND: Final = [name for name in ("WRIST", "HAND") if f"LEAD_{name}" in Point.__members__]


def _of_side(said: SwingAnalysis, side: str, names: tuple[str, ...] | list[str]) -> list[Point]:
    """The points of the lead or the trail side; in a recording the lead ones are the left ones."""
    other = {"LEAD": "TRAIL", "TRAIL": "LEAD"}
    own = other[side] if plays_left(said) else side
    return [Point[f"{own}_{name}"] for name in names]


def _stuck(side: str, names: tuple[str, ...] | list[str], number: int | None = None) -> Change:
    """From a position on, or all through, some joints are shown where they were."""

    def change(seen: SwingRecording, said: SwingAnalysis, _: np.random.Generator) -> SwingRecording:
        first = 0 if number is None else place(seen, said, number)
        joints = _of_side(said, side, names)
        points = seen.points.copy()
        points[first:, joints] = points[first, joints]
        return replace(seen, points=points)

    return change


def _anothers_hand(first: int, last: int, beside: float) -> Change:
    """From one position to another the lead wrist is that of somebody who stands there."""

    def change(
        seen: SwingRecording, said: SwingAnalysis, rng: np.random.Generator
    ) -> SwingRecording:
        when = slice(place(seen, said, first), place(seen, said, last))
        hand, points = _of_side(said, "LEAD", _HAND), seen.points.copy()
        trembling = rng.normal(0.0, 0.004, points[when, hand].shape)
        off = np.array([beside, 0.0]) + trembling
        points[when, hand] = np.nanmedian(points, axis=(0, 1)) + height(seen) * off
        return replace(seen, points=points)

    return change


def _put_between(first: int, last: int) -> Change:
    """From one position to another the arms were lost and put on straight lines."""

    def change(seen: SwingRecording, said: SwingAnalysis, _: np.random.Generator) -> SwingRecording:
        begin = place(seen, said, first)
        end = max(place(seen, said, last), begin + 1)
        points, share = seen.points.copy(), np.linspace(0.0, 1.0, end - begin + 1)[:, None, None]
        way = points[end, ARMS] - points[begin, ARMS]
        points[begin : end + 1, ARMS] = points[begin, ARMS] + share * way
        return replace(seen, points=points)

    return change


def _at_the_corner(joints: list[Point], share: float) -> Change:
    """Some joints, in a share of the frames, were not seen and are told at the picture's corner."""

    def change(seen: SwingRecording, _: SwingAnalysis, rng: np.random.Generator) -> SwingRecording:
        corner = np.nanmin(seen.points, axis=(0, 1)) - height(seen) * np.array([0.5, 0.4])
        lost = np.zeros(seen.confidence.shape, dtype=bool)
        lost[:, joints] = rng.random((len(lost), len(joints))) < share
        lost &= np.isfinite(seen.points[..., 0])
        return replace(seen, points=np.where(lost[..., None], corner, seen.points))

    return change


def _there_and_back(*, forward_first: bool) -> Change:
    """The film and the same backwards, one after the other, as loops of apps are."""

    def change(seen: SwingRecording, _: SwingAnalysis, __: np.random.Generator) -> Film:
        own = np.arange(len(seen.times))
        order = np.r_[own, own[::-1]] if forward_first else np.r_[own[::-1], own]
        times = np.arange(len(order)) * step(seen)
        return Film(replace(frames(seen, order), times=times), seen.times[order])

    return change


def _in_a_mirror(number: int) -> Change:
    """From a position on the player's image in a mirror behind is followed."""

    def change(seen: SwingRecording, said: SwingAnalysis, _: np.random.Generator) -> SwingRecording:
        late = slice(place(seen, said, number), None)
        middle = np.nanmedian(seen.points, axis=(0, 1))
        image = middle + (swap_sides(seen.points) - middle) * np.array([-0.8, 0.8])
        points = seen.points.copy()
        points[late] = image[late] + height(seen) * np.array([0.7, -0.05])
        return replace(seen, points=points)

    return change


def _another_golfer(first: int, last: int, seconds: float) -> Change:
    """From one position to another somebody beside is followed who swings so much later."""

    def change(seen: SwingRecording, said: SwingAnalysis, _: np.random.Generator) -> SwingRecording:
        when = slice(place(seen, said, first), place(seen, said, last))
        late = np.maximum(np.arange(len(seen.times)) - int(seconds / step(seen)), 0)
        points = seen.points.copy()
        points[when] = seen.points[late[when]] + height(seen) * np.array([0.6, 0.0])
        return replace(seen, points=points)

    return change


def _exchanged(*names: str) -> Change:
    """Left and right of a pair of joints exchanged in the whole clip."""
    joints = [Point[f"{side}_{name}"] for name in names for side in ("LEAD", "TRAIL")]

    def change(seen: SwingRecording, _: SwingAnalysis, __: np.random.Generator) -> SwingRecording:
        return exchanged(seen, joints)

    return change


def _rolling_over(degrees: float) -> Change:
    """The camera turns about its line of sight through the clip."""

    def change(seen: SwingRecording, _: SwingAnalysis, __: np.random.Generator) -> SwingRecording:
        angle = np.radians(degrees) * np.linspace(0.0, 1.0, len(seen.times))[:, None]
        middle = np.nanmedian(seen.points, axis=(0, 1))
        x, y = np.moveaxis(seen.points - middle, -1, 0)
        turned = np.cos(angle) * x + np.sin(angle) * y, np.cos(angle) * y - np.sin(angle) * x
        return replace(seen, points=middle + np.stack(turned, axis=-1))

    return change


LOST: Final[Mapping[str, Perturbation]] = {
    "trail leg stuck": Perturbation(_stuck("TRAIL", ("KNEE", *_FOOT))),
    "lead elbow stuck": Perturbation(_stuck("LEAD", ("ELBOW",))),
    "lead wrist stuck from P7 on": Perturbation(_stuck("LEAD", _HAND, 7)),
    "lead arm stuck from P4 on": Perturbation(_stuck("LEAD", ("ELBOW", *_HAND), 4)),
    "another's hand for the lead, P4 to P7": Perturbation(_anothers_hand(4, 7, 0.3)),
    "another's hand near, P5 to P8": Perturbation(_anothers_hand(5, 8, 0.12)),
    "arms put between P4 and P7": Perturbation(_put_between(4, 7)),
    "arms put between P1 and P5": Perturbation(_put_between(1, 5)),
    "one joint in ten at a corner": Perturbation(_at_the_corner(SIDED, 0.1)),
    "head at a corner": Perturbation(_at_the_corner(HEAD, 1.0)),
    "runs forward and back": Perturbation(_there_and_back(forward_first=True)),
    "runs back and forward": Perturbation(_there_and_back(forward_first=False)),
    "in a mirror from P8 on": Perturbation(_in_a_mirror(8)),
    "another golfer, P4 to P5": Perturbation(_another_golfer(4, 5, 0.5)),
    "shoulders exchanged all through": Perturbation(_exchanged("SHOULDER")),
    "knees exchanged all through": Perturbation(_exchanged("KNEE")),
    "rolls over by 8 degrees": Perturbation(_rolling_over(8.0)),
    "rolls over by -8 degrees": Perturbation(_rolling_over(-8.0)),
}
