"""What a player can do about footage, where the fix of a remark is for whoever sends the points."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from service.languages import sayable

_SAY_THE_HAND: Final[str] = sayable(
    "Say which way the player plays, and do not film mirrored, as selfie cameras do."
)
_ALONE: Final[str] = sayable("Film the player alone.")
NOT_BY_FILMING: Final[str] = sayable(
    "No other film helps: the program that follows the joints has to be set right."
)
PLAYERS_FIX: Final[Mapping[str, str]] = {
    "camera_moves": sayable("Use a tripod, or hold the camera still and don't zoom."),
    "club_astray": NOT_BY_FILMING,
    "cut_out_coordinates": NOT_BY_FILMING,
    "film_cut": sayable("Film each swing by itself, from before the takeaway to the finish."),
    "handedness_contradicts_motion": _SAY_THE_HAND,
    "handedness_contradicts_record": _SAY_THE_HAND,
    "hands_held": sayable("Film in even light, so that the hands are seen throughout."),
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
