"""What the footage stands in the way of, put together from what the other modules see of it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from service.analysis.footage import body, camera, clock
from service.analysis.footage.body import Limbs
from service.analysis.footage.filmed import SwingFootage
from service.analysis.footage.picture.cut_out import Origin, origins
from service.analysis.footage.picture.growth import growth
from service.analysis.footage.picture.proportions import squeeze
from service.analysis.footage.picture.smoothed import places_smoothed
from service.analysis.footage.places import Instant, Legs, Stance
from service.analysis.pose.conditioning import Conditioned
from service.analysis.pose.timeline import batches
from service.analysis.types import (
    BoolArray,
    FootageQuality,
)


def inspect_clip(conditioned: Conditioned, names: tuple[str, ...]) -> FootageQuality:
    """Report on a clip in which no swing was found.

    Parameters
    ----------
    names : point names in the order of the point axis
    """
    return FootageQuality(
        frame_rate=conditioned.frame_rate,
        joints_seen=_by_name(_shares_seen(conditioned.observed), names),
    )


def inspect_swings(swings: Sequence[SwingFootage], names: tuple[str, ...]) -> list[FootageQuality]:
    """Report on the footage of each of some swings.

    Parameters
    ----------
    names : point names in the order of the point axis
    """
    looks = (
        look
        for some in batches([len(each.times) for each in swings])
        for look in _looks(swings[some])
    )
    return [_report(*each, names) for each in zip(swings, looks, strict=True)]


@dataclass(frozen=True)
class _Look:
    """What is reckoned for many swings at once, of one of them; ways of the ankles by the end of
    the swing, by P3, P4 and impact."""

    stance: Stance
    by_end: list[list[float]]
    by_level: list[list[float]]
    by_top: list[list[float]]
    by_impact: list[list[float]]
    grown: float
    in_order: list[bool]
    thighs_cross: bool
    shoulders_cross: bool
    squeeze: float | None
    uneven: str | None
    origin: Origin | None


def _looks(swings: Sequence[SwingFootage]) -> Iterator[_Look]:
    shown = [each.points[each.frames] for each in swings]
    # A finish that is held turns the shoulders to the camera, but may be held for ever; so widths
    # are taken for as long again as the swing lasts.
    longer = [
        each.points[each.frames.start : 2 * each.frames.stop - each.frames.start] for each in swings
    ]
    legs = Legs.of(shown, [each.moments for each in swings])
    until = [
        len(own) if each.impact is None else each.impact
        for each, own in zip(swings, shown, strict=True)
    ]
    limbs = Limbs.of(shown, until, [each.from_address for each in swings])
    told: dict[str, Sequence[Any]] = {
        "stance": legs.stances(),
        "by_end": legs.gone(Instant.LAST).tolist(),
        "by_level": legs.gone(Instant.LEVEL).tolist(),
        "by_top": legs.gone(Instant.TOP).tolist(),
        "by_impact": legs.gone(Instant.IMPACT).tolist(),
        "grown": growth(legs).tolist(),
        "in_order": limbs.in_order.tolist(),
        "thighs_cross": limbs.thighs_cross.tolist(),
        "shoulders_cross": limbs.shoulders_cross.tolist(),
        "squeeze": squeeze(longer, [each.past_impact for each in swings]),
        "uneven": clock.uneven_frames(
            [(each.positions, each.intent, each.sent, each.times) for each in swings]
        ),
        "origin": origins([(each.sent, each.stances) for each in swings]),
    }
    each_look = zip(*told.values(), strict=True)
    return (_Look(**dict(zip(told, look, strict=True))) for look in each_look)


def _report(swing: SwingFootage, look: _Look, names: tuple[str, ...]) -> FootageQuality:
    positions, orientation, conditioned = swing.positions, swing.orientation, swing.conditioned
    shares = _shares_seen(swing.observed[swing.frames])
    seen = _by_name(shares, names)
    grown = look.grown if swing.from_address else 0.0
    remarks = (
        clock.plays_slow(positions, swing.intent),
        clock.plays_fast(positions),
        clock.plays_unevenly(positions, swing.intent, look.uneven),
        camera.squeezed(look.squeeze),
        camera.goes_along(look.origin),
        camera.other_view(orientation),
        camera.other_hand(orientation),
        places_smoothed(swing.sent, conditioned.frame_rate),
        clock.low_rate(conditioned.frame_rate, positions),
        clock.clip_starts(positions),
        clock.clip_stops(positions),
        body.feet(shares),
        body.club(shares),
        camera.off_line(look.stance, orientation),
        camera.off_level(look.stance, orientation),
        None if swing.impact is None else camera.moves(_ways(look), look.origin, grown),
        body.out_of_order(look.in_order, shoulders_cross=look.shoulders_cross),
        body.sits(look.stance),
        body.legs_exchanged(
            thighs_cross=look.thighs_cross,
            ankles=look.by_end,
            to_finish=any(each.time is not None for each in positions[8:]),
        ),
        body.missing_joints(shares),
        body.lost_joints(seen),
        body.many_repairs(conditioned),
    )
    return FootageQuality(conditioned.frame_rate, seen, tuple(r for r in remarks if r))


def _ways(look: _Look) -> camera.Ways:
    return camera.Ways((look.by_level, look.by_top), look.by_impact)


def _shares_seen(observed: BoolArray) -> list[float]:
    """Share of the frames in which each point was measured."""
    shares: list[float] = (np.add.reduce(observed) / len(observed)).tolist()
    return shares


def _by_name(shares: list[float], names: tuple[str, ...]) -> dict[str, float]:
    """The shares by the points' names; points never seen left out."""
    return {name: round(share, 3) for name, share in zip(names, shares, strict=True) if share > 0}
