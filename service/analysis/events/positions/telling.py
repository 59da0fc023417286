"""How positions are told: observed, inferred, or not found and why."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from math import erf, sqrt
from typing import Final

import numpy as np

from service.analysis.events.positions.searches.finish import LEAST_HOLD
from service.analysis.events.positions.searches.scene import Found, Scene
from service.analysis.events.positions.searches.takeaway import SURELY
from service.analysis.pose.points import Point
from service.analysis.types import FloatArray, Position, Reason, Source

# Judgements of ours, checked on simulated swings.
_MOST_OBSERVED: Final[float] = 0.5
"""Largest uncertainty of a position that counts as observed, in lengths of the swing: what may lie
anywhere in it was not seen; judgement."""
_TOO_UNSURE: Final = Reason(
    "too_unsure", "The points are too unsteady or too few to tell when this position is passed."
)
_LEAST_TO_LEVEL: Final[float] = 0.2
"""Share of the backswing until its shaft is level, at least: usually a third to a half (common
practice), and some of it may lie before the first frame."""


def as_positions(scene: Scene, found: dict[int, Found | None]) -> tuple[Position, ...]:
    """The ten positions of a swing in order, with the reason of each that was not found."""
    frames, longest = _frames(scene.tracks.times, found), _MOST_OBSERVED * _length(found)
    return tuple(
        _missing(scene, number, found)
        if moment is None
        else _as_position(number, moment, frames[number], longest)
        for number, moment in ((k, found[k]) for k in range(1, 11))
    )


def shown(found: Mapping[int, Found | None], clock: FloatArray) -> dict[int, Found | None]:
    """Without what the clip begins too late or stops too early to show.

    A start that lies within two of its uncertainties of the first frame was not seen to be one, and
    a finish was seen only where the clip goes on after it, with hands that no longer come.
    """
    top, start, finish = found[4], found[1], found[10]
    kept = dict(found)
    if top is not None and not top.shown:
        kept.update(dict.fromkeys((1, 2, 3, 4)))
    elif start is not None and start.time - clock[0] < SURELY * start.uncertainty:
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


def _frames(clock: FloatArray, found: Mapping[int, Found | None]) -> dict[int, float]:
    """Fractional frames of the positions found, by number."""
    times = {number: moment.time for number, moment in found.items() if moment is not None}
    frames = np.interp(list(times.values()), clock, np.arange(len(clock)))
    return dict(zip(times, frames.tolist(), strict=True))


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
