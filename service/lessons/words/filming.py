"""What to film for a reason, and what a player can do about a remark on the footage.

The fix of some remarks is for whoever sends the points; a player has words of his own.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from service.analysis.pose.points import CLUB_POINTS
from service.analysis.types import Reason
from service.languages import sayable
from service.lessons.not_judged import BODY_ALONE, CLUB_ALONE, WHY, film_instead
from service.lessons.words.reasons import figured

_OF_FEET: Final = ("heel", "toe", "ankle")
_BODY_WITHOUT_FEET: Final[str] = sayable(
    "Keep the whole body in the picture, in good light, with nothing in front of it."
)
_SAY_THE_HAND: Final[str] = sayable(
    "Say which way the player plays, and do not film mirrored, as selfie cameras do."
)
_EARS_EXCHANGED: Final[str] = sayable(
    "Film square to the chest; if it was, the program that follows the joints exchanged the ears."
)
_ALONE: Final[str] = sayable("Film the player alone.")
NOT_BY_FILMING: Final[str] = sayable(
    "No other film helps: the program that follows the joints has to be set right."
)
PLAYERS_FIX: Final[Mapping[str, str]] = {
    "camera_moves": sayable("Use a tripod, or hold the camera still and don't zoom."),
    "club_astray": NOT_BY_FILMING,
    "cut_out_coordinates": NOT_BY_FILMING,
    "feet_not_seen": sayable(
        "Keep both feet in the picture; where they are, the program has to follow heels and toes."
    ),
    "film_cut": sayable("Film each swing by itself, from before the takeaway to the finish."),
    "handedness_contradicts_motion": _SAY_THE_HAND,
    "handedness_contradicts_record": _SAY_THE_HAND,
    "hands_held": sayable("Film in even light, so that the hands are seen throughout."),
    "joints_missing": WHY["joints_not_seen"][1],
    "joints_out_of_order": NOT_BY_FILMING,
    "legs_exchanged": NOT_BY_FILMING,
    "picture_squeezed": sayable("Hand the film on as it was taken, not squeezed or stretched."),
    "player_left": _ALONE,
    "plays_fast": sayable("Hand the film on with all its frames, not sped up."),
    "plays_slow": sayable("Say when a film is slow motion, or the swing a slow rehearsal."),
    "plays_unevenly": sayable("Hand the film on at one speed throughout, not slowed in part."),
    "several_people": _ALONE,
    "view_contradicts_picture": sayable("Say rightly from which side it was filmed."),
}
"""By the code of the remark; the fixes of all others are for whoever films."""


def film_for(reason: Reason) -> str | None:
    """What to film so that a reason falls away; ``None`` where nothing is known.

    >>> film_for(Reason("points_too_close", "Head turn has no clear value in this picture at P8."))
    'Film square to the chest; if it was, the program that follows the joints exchanged the ears.'
    >>> film_for(Reason("points_not_seen", "Not seen well enough for this: trail wrist."))
    'Keep the whole body in the picture, in good light, with nothing in front of it.'
    """
    known = film_instead(reason.code)
    if reason.code == "points_too_close" and _is_of_head(reason):
        return _EARS_EXCHANGED
    return (_of_points(reason) or known) if reason.code == "points_not_seen" else known


def _is_of_head(reason: Reason) -> bool:
    """Whether a measure without a clear value is of the head, which then would face backward."""
    told = figured(reason)
    return told is not None and told.parts["measure"].startswith("Head turn")


def _of_points(reason: Reason) -> str | None:
    """What to do about the points that a reason names, if all are of the club or none is."""
    told = figured(reason)
    names = told.parts["points"].split(", ") if told else []
    of_club = {name.replace(" ", "_") in CLUB_POINTS for name in names}
    if len(of_club) != 1:
        return None
    if of_club.pop():
        return CLUB_ALONE
    return BODY_ALONE if any(name.endswith(_OF_FEET) for name in names) else _BODY_WITHOUT_FEET
