"""A report on the footage: what it allows to be judged and what to film differently."""

from __future__ import annotations

from typing import Final

import numpy as np

from service.analysis.events.orientation import LEAST_VIEW_CONFIDENCE, Orientation
from service.analysis.events.proportions import squeeze
from service.analysis.pose.conditioning import Conditioned
from service.analysis.pose.points import CLUB_POINTS, Point
from service.analysis.types import (
    BoolArray,
    FloatArray,
    FootageQuality,
    Intent,
    Level,
    Position,
    Remark,
    View,
)

_ENOUGH_SEEN: Final[float] = 0.8
_IMPACT_FRAMES: Final[float] = 2.0
_LEVEL_FEET: Final[float] = 4.0
_HIPS_FROM_BEHIND: Final[float] = 0.04
"""Hip width in body heights above which a down-the-line camera is well off its line: some
20 degrees for hip joints about 0.11 apart seen square on."""
_FAST_ENOUGH: Final[float] = 110.0
"""Frames a second from which the rate is not to blame."""
_MOST_REPAIRS: Final[float] = 0.01
_LONGEST_DOWNSWING: Final[float] = 0.45
"""Seconds from P4 to P7 that hardly any swing at full speed takes: 0.2 to 0.35 s is common
practice. Of 59 real swings at a known frame rate the slowest took 0.44 s, the usual one 0.26 s."""
_SHORTEST_DOWNSWING: Final[float] = 0.15
"""Seconds from P4 to P7 that nobody is quick enough for: of the same 59 the fastest took 0.19 s."""
_USUAL_DOWNSWING: Final[float] = 0.27
"""Seconds from P4 to P7, common practice; tells how many times a film is slowed."""
_SLOWED: Final[tuple[float, ...]] = (0.5, 0.25, 0.125)
"""Playback speeds of slow-motion film that phones write: 60, 120 and 240 frames a second at 30."""
_FEET: Final[tuple[Point, ...]] = (
    Point.LEAD_HEEL,
    Point.TRAIL_HEEL,
    Point.LEAD_TOE,
    Point.TRAIL_TOE,
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
) -> FootageQuality:
    """Report on the footage of a swing.

    Parameters
    ----------
    points : array of shape (n_frames, n_points, 2)
        Canonical, body heights.
    observed : boolean array of shape (n_frames, n_points)
        Canonical; where a point was measured.
    names : point names in the order of the point axis
    """
    frames = _frames_of_swing(positions, len(points))
    shares = _shares_seen(observed[frames])
    seen = _by_name(shares, names)
    remarks = (
        _plays_slow(positions, intent),
        _plays_fast(positions),
        _squeezed(points[frames.start :]),  # a finish held turns the shoulders to the camera
        _view(orientation),
        _handedness(orientation),
        _rate(conditioned.frame_rate, positions),
        _clip_ends(positions),
        _feet(shares),
        _club(shares),
        _camera_line(points[frames], orientation),
        _camera_level(points[frames], orientation),
        _lost_joints(seen),
        _repairs(conditioned),
    )
    return FootageQuality(conditioned.frame_rate, seen, tuple(r for r in remarks if r))


def _frames_of_swing(positions: tuple[Position, ...], n_frames: int) -> slice:
    found = [p.frame for p in positions if p.frame is not None]
    return slice(int(found[0]), min(int(np.ceil(found[-1])) + 1, n_frames))


def _shares_seen(observed: BoolArray) -> list[float]:
    """Share of the frames in which each point was measured."""
    shares: list[float] = (np.count_nonzero(observed, axis=0) / len(observed)).tolist()
    return shares


def _by_name(shares: list[float], names: tuple[str, ...]) -> dict[str, float]:
    """The shares by the points' names; points never seen left out."""
    return {name: round(share, 3) for name, share in zip(names, shares, strict=True) if share > 0}


def _plays_slow(positions: tuple[Position, ...], intent: Intent) -> Remark | None:
    """A downswing slower than at full speed: most likely slow motion not told of."""
    top, impact = positions[3].time, positions[6].time
    if intent is not Intent.FULL_SPEED or top is None or impact is None:
        return None
    took = impact - top
    if took <= _LONGEST_DOWNSWING:
        return None
    slowed = np.array(_SLOWED)
    speed = float(slowed[np.argmin(np.abs(np.log(slowed * took / _USUAL_DOWNSWING)))])
    return Remark(
        "plays_slow",
        Level.WARNING,
        f"The downswing takes {took:.2f} s, longer than at full speed: the film seems to play "
        "slow, so that times, tempo and what hangs on them are off.",
        f"Say how fast the film plays: playback_speed {speed:g} (times the one sent, if any); or "
        "that it is a slow rehearsal (intent), if the player did swing slowly.",
    )


def _plays_fast(positions: tuple[Position, ...]) -> Remark | None:
    """A downswing faster than anybody's: most likely frames were left out."""
    back, top, impact = (positions[k].time for k in (2, 3, 6))
    if back is None or top is None or impact is None or impact - top >= _SHORTEST_DOWNSWING:
        return None
    return Remark(
        "plays_fast",
        Level.WARNING,
        f"The downswing takes {impact - top:.2f} s, less than anybody's: the film seems to play "
        "fast or to lack frames, so that times, tempo and what hangs on them are off.",
        "Give the rate of the frames that were kept (fps): half the film's where every second "
        "frame is left out.",
    )


def _squeezed(points: FloatArray) -> Remark | None:
    """Widths of the body that don't go with its height."""
    factor = squeeze(points)
    if factor is None:
        return None
    what = "narrow" if factor < 1.0 else "wide"
    return Remark(
        "picture_squeezed",
        Level.WARNING,
        f"The body is too {what} for its height, about {factor:.1f} times what bodies are: the "
        "picture seems squeezed or stretched, so that angles and lengths are off and faults can't "
        "be judged.",
        "Send pixels of the film as it is shown, or coordinates: normalised with image_size as "
        "the film's true width and height.",
    )


def _view(orientation: Orientation) -> Remark | None:
    if not orientation.view_contradicted:
        return None
    told, seen = orientation.view, orientation.seen_view
    said, looks = (view.value.replace("_", " ") for view in (told.value, seen.value))
    return Remark(
        "view_contradicts_picture",
        Level.WARNING,
        f"The clip was said to be filmed {said}, but looks as if filmed {looks}: faults can't be "
        "judged.",
        "Leave view out or correct it.",
    )


def _handedness(orientation: Orientation) -> Remark | None:
    if not orientation.handedness_contradicted:
        return None
    told, seen = orientation.handedness, orientation.seen_handedness
    return Remark(
        "handedness_contradicts_motion",
        Level.WARNING,
        f"The player was said to play {told.value.value}-handed, but moves as a "
        f"{seen.value.value}-hander does; lead and trail may be exchanged, so faults can't be "
        "judged.",
        "Leave handedness out or correct it; a mirrored film, as selfie cameras write, has to be "
        "mirrored back.",
    )


def _rate(frame_rate: float, positions: tuple[Position, ...]) -> Remark | None:
    impact, after = positions[6].time, positions[7].time
    between = 0.05 if impact is None or after is None else after - impact
    if frame_rate >= _FAST_ENOUGH or between * frame_rate >= _IMPACT_FRAMES:
        return None
    return Remark(
        "low_frame_rate",
        Level.WARNING,
        f"At {frame_rate:.0f} frames a second impact falls between two frames.",
        "Film at 120 frames a second or more (slow-motion mode), in good light.",
    )


def _clip_ends(positions: tuple[Position, ...]) -> Remark | None:
    codes = {p.reason.code for p in positions if p.reason}
    if positions[0].time is None:
        return Remark(
            "clip_starts_late",
            Level.WARNING,
            "The clip starts after the swing has begun; what is compared with address is open.",
            "Start filming a second before the takeaway.",
        )
    if "clip_stops_early" in codes:
        return Remark(
            "clip_stops_early",
            Level.WARNING,
            "The clip stops before the swing has ended.",
            "Keep filming until the player stands still in the finish.",
        )
    return None


def _feet(shares: list[float]) -> Remark | None:
    if sum(shares[point] for point in _FEET) >= _ENOUGH_SEEN * len(_FEET):
        return None
    return Remark(
        "feet_not_seen",
        Level.WARNING,
        "Heels and toes were not followed, so the feet can't be judged.",
        "Keep both feet in the picture; where they are, use a pose model that follows heels and "
        "toes.",
    )


def _club(shares: list[float]) -> Remark | None:
    share = shares[Point.CLUBHEAD]
    if share >= _ENOUGH_SEEN:
        return None
    seen = f"only seen in {100 * share:.0f} % of the frames" if share else "not followed"
    return Remark(
        "club_not_seen",
        Level.INFO,
        f"The club is {seen}: where it is missing, shaft and wrists can't be judged and P2, P6 "
        "and P8 are inferred from the hands.",
        "Pose models leave the club out: mark it on the film by hand, or use a tracker that "
        "follows at least the clubhead.",
    )


def _camera_line(points: FloatArray, orientation: Orientation) -> Remark | None:
    if orientation.view_contradicted:
        return None
    if orientation.camera_opposite:
        return Remark(
            "camera_on_far_side",
            Level.WARNING,
            "The camera looks at the player from the far side.",
            "Face-on, stand in front of the player; down the line, stand behind the hands and "
            "look toward the target.",
        )
    hips = abs(_at_start(points, Point.LEAD_HIP, Point.TRAIL_HIP)[0])
    view = orientation.view
    between = view.confidence < LEAST_VIEW_CONFIDENCE
    if between or (view.value is View.DOWN_THE_LINE and hips > _HIPS_FROM_BEHIND):
        return Remark(
            "camera_off_line",
            Level.WARNING,
            "The camera stands off its line, which bends what is seen in depth.",
            "Face-on, aim square at the chest; down the line, stand on the line through the "
            "hands, parallel to the target line.",
        )
    return None


def _camera_level(points: FloatArray, orientation: Orientation) -> Remark | None:
    """Face-on, level ground shows both ankles equally high."""
    if orientation.view.value is not View.FACE_ON or orientation.view_contradicted:
        return None
    ankles = _at_start(points, Point.LEAD_ANKLE, Point.TRAIL_ANKLE)
    # Which ankle lies on which side is told by the handedness, whether it is right or not.
    tilt = abs(float(np.degrees(np.arctan2(ankles[1], abs(ankles[0])))))
    if not tilt > _LEVEL_FEET:
        return None
    return Remark(
        "camera_tilted",
        Level.INFO,
        f"The feet stand {tilt:.0f} degrees off level: a sloping lie or a tilted camera.",
        "Use a tripod and its level.",
    )


def _at_start(points: FloatArray, a: Point, b: Point) -> FloatArray:
    """From ``b`` to ``a`` in the first frames of the swing, shape (2,); NaN if not seen."""
    apart = points[:5, a] - points[:5, b]
    seen = apart[~np.isnan(apart).any(axis=1)]
    if not len(seen):
        return np.full(2, np.nan)
    seen.sort(axis=0)
    return np.asarray(0.5 * (seen[(len(seen) - 1) // 2] + seen[len(seen) // 2]))


def _lost_joints(seen: dict[str, float]) -> Remark | None:
    lost = [
        n.replace("_", " ") for n, s in seen.items() if s < _ENOUGH_SEEN and n not in CLUB_POINTS
    ]
    if not lost:
        return None
    return Remark(
        "joints_lost",
        Level.INFO,
        f"Lost in part of the swing: {', '.join(lost)}.",
        "Film against a plain background in even light, with the whole body in the picture.",
    )


def _repairs(conditioned: Conditioned) -> Remark | None:
    repairs = conditioned.swaps_repaired + conditioned.outliers_removed
    if repairs <= _MOST_REPAIRS * conditioned.observed.sum():
        return None
    return Remark(
        "keypoints_repaired",
        Level.INFO,
        f"{conditioned.outliers_removed} outliers and {conditioned.swaps_repaired} exchanges of "
        "left and right were repaired.",
        "Use a larger pose model or better light.",
    )
