"""What the camera shows: its side, line and level, whether it moves, how pictures are squeezed."""

from __future__ import annotations

from collections.abc import Sequence
from math import atan2, degrees, exp, hypot
from typing import Final, NamedTuple

from service.analysis.events.orientation import LEAST_VIEW_CONFIDENCE, Orientation
from service.analysis.footage.picture.cut_out import Origin
from service.analysis.footage.places import Stance
from service.analysis.types import Level, Remark, View

_LEVEL_FEET: Final[float] = 4.0
"""Degrees."""
_LEANING: Final[float] = 7.0
"""Degrees off level from which the hips may lie beside the feet by more than a slide of the hips
does: half of body height above them, by 6 % of it."""
_HIPS_FROM_BEHIND: Final[float] = 0.04
"""Hip width in body heights above which a down-the-line camera is well off its line: some
20 degrees for hip joints about 0.11 apart seen square on."""
_FARTHEST_MOVED: Final[float] = 0.03
"""Body heights that both feet go together before impact from which what travels over the ground
can't be told. Of 144 real swings as they were filmed six in a hundred go farther, most of them of a
source whose cameras move; of 80 simulated and replayed ones none does. Panned by 4 % of body height
up to impact two in three do."""
_FARTHEST_ON_THE_WAY: Final[float] = 0.04
"""The same at P3 and P4. Of 144 real swings and 184 simulated and replayed ones no more go as far;
where coordinates are those of each frame's own cut-out about the player, whom raised hands shift
and shrink, seven in ten do that are not told by impact, at which the hands are low again."""
LARGEST_GROWTH: Final[float] = 0.06
"""Logarithm of the factor by which a picture may grow or shrink up to impact. Of 109 real swings,
each told by a table made without its source, six go farther, three of which the feet tell too; of
100 simulated ones none does. Zoomed by a tenth up to impact three in four do."""

_AS: Final = "as where the camera is turned or zoomed"
_HOLD_STILL: Final = "Use a tripod, or hold the camera still and don't zoom."


def squeezed(factor: float | None) -> Remark | None:
    """Widths of the body that don't go with its height.

    ``factor`` is what :func:`~service.analysis.footage.picture.proportions.squeeze` tells of the
    frames from the takeaway on for twice the swing's length: shoulders filmed down the line lie
    across the picture in the finish alone, and a finish may be held for ever.
    """
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


def other_view(orientation: Orientation) -> Remark | None:
    """A view that was given and is not what the picture shows."""
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


def other_hand(orientation: Orientation) -> Remark | None:
    """A handedness that was given and is not that of the motion."""
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


def off_line(stance: Stance, orientation: Orientation) -> Remark | None:
    """A camera that stands off its line, or on the far side."""
    if orientation.view_contradicted:
        return None
    if orientation.camera_opposite:
        return Remark(
            "camera_on_far_side",
            Level.WARNING,
            "The camera looks at the player from the far side.",
            "Face-on, stand in front of the player; down the line, stand behind the hands and "
            "look toward the target. A film that was mirrored has to be mirrored back.",
        )
    hips = abs(stance.hips[0])
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


def off_level(stance: Stance, orientation: Orientation) -> Remark | None:
    """Face-on, level ground shows both ankles equally high."""
    if orientation.view.value is not View.FACE_ON or orientation.view_contradicted:
        return None
    across, up = stance.ankles
    # Which ankle lies on which side is told by the handedness, whether it is right or not.
    tilt = abs(degrees(atan2(up, abs(across))))
    if not tilt > _LEVEL_FEET:
        return None
    told = f"The feet stand {tilt:.0f} degrees off level: "
    if tilt > _LEANING:
        return Remark(
            "camera_leans",
            Level.WARNING,
            f"{told}a steep lie or a camera that leans, so that what lies over what can't be told.",
            "Use a tripod and its level; film on level ground.",
        )
    return Remark(
        "camera_tilted",
        Level.INFO,
        f"{told}a sloping lie or a tilted camera.",
        "Use a tripod and its level.",
    )


def goes_along(origin: Origin | None) -> Remark | None:
    """Coordinates of each frame's own cut-out."""
    if origin is not Origin.CUT_OUT:
        return None
    return Remark(
        "cut_out_coordinates",
        Level.WARNING,
        "The body's bounding box lies at one place in every frame, as where coordinates are those "
        "of a piece cut out about the player, which shifts and shrinks from frame to frame: faults "
        "can't be judged.",
        "Send places in the film's whole picture: add the corner of each frame's piece, and undo "
        "its scale first.",
    )


class Ways(NamedTuple):
    """How far lead and trail ankle have gone across the picture and up it, at moments on the way
    to impact and by impact."""

    on_the_way: Sequence[list[list[float]]]
    by_impact: list[list[float]]


def moves(ankles: Ways, origin: Origin | None, grown: float) -> Remark | None:
    """Feet on the ground go together, and a player grows, only where the picture moves.

    ``grown`` is the logarithm of the factor by which the player does up to impact, 0 where the
    swing is not seen from P1 on: bodies bend between other positions.
    """
    gone, before = _together(ankles.by_impact), max(map(_together, ankles.on_the_way))
    if origin is Origin.HIPS:
        seen = (
            "The hips lie at one place in every frame, as where coordinates are counted from them"
        )
        fix = "Send places in the film's picture, not those in space about the hips."
    elif gone > _FARTHEST_MOVED or before > _FARTHEST_ON_THE_WAY:
        far = 100 * max(gone, before)
        seen = f"Both feet move by {far:.0f} % of body height together before impact, {_AS}"
        fix = _HOLD_STILL
    elif abs(grown) > LARGEST_GROWTH:
        factor = exp(grown)
        seen = f"The player gets {factor:.2f} times as large in the picture before impact, {_AS}"
        fix = _HOLD_STILL
    else:
        return None
    return Remark(
        "camera_moves",
        Level.WARNING,
        f"{seen}: what travels over the ground can't be told.",
        fix,
    )


def _together(ankles: list[list[float]]) -> float:
    """How far both ankles have gone the same way; 0 where they were not seen."""
    ways = zip(*ankles, strict=True)
    return hypot(*(min(abs(lead), abs(trail)) for lead, trail in ways if lead * trail > 0.0))
