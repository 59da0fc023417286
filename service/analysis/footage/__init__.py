"""A report on the footage: what it allows to be judged and what to film differently."""

from __future__ import annotations

import numpy as np

from service.analysis.events.orientation import Orientation
from service.analysis.footage import body, camera, clock
from service.analysis.footage.places import Stance
from service.analysis.pose.conditioning import Conditioned
from service.analysis.types import (
    BoolArray,
    FloatArray,
    FootageQuality,
    Intent,
    Position,
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


def inspect_swing(
    points: FloatArray,
    observed: BoolArray,
    conditioned: Conditioned,
    positions: tuple[Position, ...],
    orientation: Orientation,
    names: tuple[str, ...],
    intent: Intent,
    sent: FloatArray,
) -> FootageQuality:
    """Report on the footage of a swing.

    Parameters
    ----------
    points : array of shape (n_frames, n_points, 2)
        Canonical, body heights.
    observed : boolean array of shape (n_frames, n_points)
        Canonical; where a point was measured.
    names : point names in the order of the point axis
    sent : array of shape (n_frames, n_points, 2)
        As they came, in their own unit.
    """
    frames = _frames_of_swing(positions, len(points))
    shares = _shares_seen(observed[frames])
    seen = _by_name(shares, names)
    swing = points[frames]
    stance = Stance.of(swing)
    # A finish that is held turns the shoulders to the camera, but may be held for ever; so widths
    # are taken for as long again as the swing lasts.
    struck = positions[6].frame
    impact = None if struck is None else round(struck) - frames.start
    remarks = (
        clock.plays_slow(positions, intent),
        clock.plays_fast(positions),
        clock.plays_unevenly(positions, intent, sent),
        camera.squeezed(points[frames.start : 2 * frames.stop - frames.start]),
        camera.other_view(orientation),
        camera.other_hand(orientation),
        clock.low_rate(conditioned.frame_rate, positions),
        clock.clip_starts(positions),
        clock.clip_stops(positions),
        body.feet(shares),
        body.club(shares),
        camera.off_line(stance, orientation),
        camera.off_level(stance, orientation),
        camera.moves(swing, impact, from_address=positions[0].time is not None),
        body.out_of_order(swing),
        body.sits(stance),
        body.legs_exchanged(
            swing,
            len(swing) if impact is None else impact,
            to_finish=any(each.time is not None for each in positions[8:]),
        ),
        body.lost_joints(seen),
        body.many_repairs(conditioned),
    )
    return FootageQuality(conditioned.frame_rate, seen, tuple(r for r in remarks if r))


def _frames_of_swing(positions: tuple[Position, ...], n_frames: int) -> slice:
    """From the first position told to the last; to the clip's end on a side where the swing reaches
    farther and it can't be told how far."""
    found = [p.frame for p in positions if p.frame is not None]
    first = 0 if positions[0].in_doubt else int(found[0])
    last = n_frames if positions[-1].in_doubt else min(int(np.ceil(found[-1])) + 1, n_frames)
    return slice(first, last)


def _shares_seen(observed: BoolArray) -> list[float]:
    """Share of the frames in which each point was measured."""
    shares: list[float] = (np.add.reduce(observed) / len(observed)).tolist()
    return shares


def _by_name(shares: list[float], names: tuple[str, ...]) -> dict[str, float]:
    """The shares by the points' names; points never seen left out."""
    return {name: round(share, 3) for name, share in zip(names, shares, strict=True) if share > 0}
