"""The positions P1 to P10 of one swing and the continuous position coordinate.

Definitions (common practice; P1 and P10 in terms of the player's movement):

- P1 address: the takeaway begins. The last moment at which hands and clubhead are within 1 % of
  body height of their place at address.
- P2 shaft parallel to the ground in the takeaway, P3 lead arm parallel in the backswing.
- P4 top: the lead arm turns back against its shoulder, by which a body that goes down first has
  begun to carry the hands along; the end of a pause there.
- P5 lead arm parallel coming down, P6 shaft parallel coming down.
- P7 impact: the clubhead is back above its place at address, along the target line.
- P8 shaft parallel after impact, P9 trail arm parallel after impact.
- P10: the finish. The first moment from which the hands are within 1 % of body height of where
  they stop: they hold there, or turn back.

An arm or a shaft is parallel to the ground when both its ends are equally high in the
picture, which holds face-on for a level camera; down the line one end is nearer to the camera, for
which a usual camera's share is taken off. A few thresholds look for every position; a network
learnt on golfers of several makes places all of them anew from all that is seen of the swing
(:mod:`service.analysis.events.positions.network`), which tells most where what defines them is
hidden: the first and last centimetres, the turn, the shaft without a club, the ball's place along
the line of sight. Without a club P2, P6 and P8 are marked as inferred, in short swings told by the
network alone, and so are P3, P5 and P9 where the wrist is lost and the hands tell. Of a club its
head is enough: where no grip is sent the lead wrist holds it, and P2 is told too where the head is
out of the picture just then.

What lies outside the clip is not told: a top is seen where the hands come up to it or rest there, a
start where the network puts it within the clip, a finish where the clip goes on after it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Final

import numpy as np

from service.analysis.events.detection import Downswing
from service.analysis.events.landmark_paths import Tracks
from service.analysis.events.positions.both_say import placed_by_both
from service.analysis.events.positions.network import PositionEstimates, network
from service.analysis.events.positions.searches.finish import find_finish
from service.analysis.events.positions.searches.impact import find_impact
from service.analysis.events.positions.searches.levels import arm_parallel, shaft_parallel
from service.analysis.events.positions.searches.scene import Found, Scene
from service.analysis.events.positions.searches.takeaway import find_takeaway
from service.analysis.events.positions.searches.turn import find_top
from service.analysis.events.positions.second_look import (
    at_odds,
    both_readings,
    where_told,
)
from service.analysis.events.positions.strip import strips_of
from service.analysis.events.positions.strip_clock import StripInput
from service.analysis.events.positions.telling import as_positions, shown
from service.analysis.types import FloatArray, Position, View

_SUREST_FIRST: Final[tuple[int, ...]] = (4, 7, 5, 3, 9, 6, 8, 1, 2, 10)
"""Which positions are kept first where not all come in order; judgement."""
_APART: Final[float] = 1e-3
"""Seconds between two positions, at least; so that they stay in order."""


def find_positions(
    points: FloatArray,
    tracks: Tracks,
    swing: Downswing,
    view: View,
    noise: FloatArray,
    *,
    refined: bool = True,
) -> tuple[Position, ...]:
    """Find P1 to P10.

    Parameters
    ----------
    points : array of shape (n_frames, n_points, 2)
        Canonical, body heights.
    noise : array of shape (n_points,)
        One standard deviation of the error of ``points`` on one axis.
    refined : bool
        False leaves every position where thresholds place it, without the network of
        :mod:`service.analysis.events.positions.network`.

    Returns
    -------
    tuple of ten positions in order; a position that the clip does not show is there with
    the reason.
    """
    scene = Scene(points, tracks, swing, view, noise)
    return find_all_positions((scene,), refined=refined)[0]


def find_all_positions(
    scenes: Sequence[Scene], *, refined: bool = True
) -> list[tuple[Position, ...]]:
    """What :func:`find_positions` finds in each of some swings, the network asked once for all."""
    found = [_search(scene) for scene in scenes]
    if refined:
        found = [_in_order(moments) for moments in _refined(scenes, found)]
        clocks = [scene.tracks.times for scene in scenes]
        found = [shown(*each) for each in zip(found, clocks, strict=True)]
    return [as_positions(*each) for each in zip(scenes, found, strict=True)]


def _search(scene: Scene) -> dict[int, Found | None]:
    found: dict[int, Found | None] = {}
    turn = find_top(scene)
    found[4], top = turn, turn.time
    found[1] = find_takeaway(scene, top)
    found[7] = find_impact(scene, found[1])
    start = found[1].time if found[1] else None
    impact = found[7].time if found[7] else None
    found[3] = arm_parallel(scene, 3, start, top)
    found[5] = arm_parallel(scene, 5, top, impact)
    found[9] = arm_parallel(scene, 9, impact, None) if found[7] else None
    found[2], found[6], found[8] = (shaft_parallel(scene, number, found) for number in (2, 6, 8))
    found[10] = find_finish(scene, found[7], found[9])
    return _in_order(found)


def _refined(
    scenes: Sequence[Scene], found: Sequence[dict[int, Found | None]]
) -> list[dict[int, Found | None]]:
    """Moments of each swing as the network places them, where it may and knows its way.

    Where it reads another swing than the thresholds do, both look there once more.
    """
    better = list(found)
    read = _read(scenes, found)
    looks = dict[int, Scene]()
    for k, (told, length) in read.items():
        if not at_odds(found[k], told):
            better[k] = placed_by_both(found[k], told, length, scenes[k])
            continue
        better[k] = both_readings(found[k], told)
        again = where_told(scenes[k], told)
        if again is not None:
            looks[k] = again
    second = [_search(scene) for scene in looks.values()]
    reread = _read([*looks.values()], second)
    for place, (k, scene) in enumerate(looks.items()):
        if place in reread and not at_odds(second[place], reread[place][0]):
            better[k] = placed_by_both(second[place], *reread[place], scene)
    return better


def _read(
    scenes: Sequence[Scene], found: Sequence[dict[int, Found | None]]
) -> dict[int, tuple[PositionEstimates, float]]:
    """What the network tells of each swing that can be laid on a strip, by number, and the length
    of the swing by thresholds."""
    laid = strips_of([_strip_input(*each) for each in zip(scenes, found, strict=True)])
    strips = {k: strip for k, strip in enumerate(laid) if strip is not None}
    if not strips:
        return {}
    views, frames = [scenes[k].view for k in strips], [scenes[k].frame for k in strips]
    told = network().place_all([*strips.values()], views, np.array(frames))
    return {k: (each, strip.length) for (k, strip), each in zip(strips.items(), told, strict=True)}


def _strip_input(scene: Scene, found: Mapping[int, Found | None]) -> StripInput:
    times = {k: moment.time for k, moment in found.items() if moment is not None}
    return StripInput(scene.points, scene.tracks, scene.view, scene.noise, times)


def _in_order(found: dict[int, Found | None]) -> dict[int, Found | None]:
    """Give up positions that don't come after the one before; the surest are kept first."""
    times = [moment.time for k in range(1, 11) if (moment := found[k]) is not None]
    if all(later - time > _APART for time, later in pairwise(times)):
        return found
    kept: dict[int, float] = {}
    for number in _SUREST_FIRST:
        moment = found[number]
        if moment is None:
            continue
        apart = [(moment.time - time) * (1 if number > k else -1) for k, time in kept.items()]
        if not apart or min(apart) > _APART:
            kept[number] = moment.time
    return {k: moment if k in kept else None for k, moment in found.items()}
