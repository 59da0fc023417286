"""Why a fault could not be judged, in few words for a summary, and what to film instead."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from service.languages import sayable

NOT_TOLD: Final[str] = "not_told"
"""Stands for the reason of a finding that was kept without it."""

WHY: Final[Mapping[str, tuple[str, str]]] = {
    "view": (sayable("filmed from the other side"), sayable("Film face-on and down the line.")),
    "view_unsure": (
        sayable("the view is not clear"),
        sayable("Give the right view; film square to the chest or on the hand line."),
    ),
    "handedness_unsure": (
        sayable("the handedness is not clear"),
        sayable("Say which way the player plays, and mirror a mirrored film back."),
    ),
    "frame_rate": (
        sayable("too few frames a second"),
        sayable("Film at 120 frames a second or more."),
    ),
    "points_not_seen": (
        sayable("joints or club not seen"),
        sayable(
            "Keep the whole body and both feet in the picture; the club has to be marked by hand "
            "or tracked, as pose models leave it out."
        ),
    ),
    "joints_not_seen": (
        sayable("joints not seen"),
        sayable("Keep the whole body in the picture."),
    ),
    "position_not_found": (
        sayable("a position was not found"),
        sayable("Film from before the takeaway to the finish."),
    ),
    "position_inferred": (
        sayable("a position had to be inferred"),
        sayable("Begin with the player standing still."),
    ),
    "clip_starts_late": (
        sayable("the clip starts late"),
        sayable("Begin with the player standing still."),
    ),
    "clip_stops_early": (sayable("the clip stops early"), sayable("Film on to the finish.")),
    "too_uncertain": (
        sayable("the measure is too uncertain"),
        sayable("Fill the picture with the player, from a tripod, in good light."),
    ),
    "too_unsure": (
        sayable("the points are too unsteady"),
        sayable("Film from a tripod, in good light."),
    ),
    "points_too_close": (
        sayable("no clear value in the picture"),
        sayable("Film square to the chest or on the hand line."),
    ),
    "not_reached": (
        sayable("the swing stops before it"),
        sayable("Nothing: short swings do not show it."),
    ),
    "rehearsal": (
        sayable("a slow rehearsal can't show it"),
        sayable("Film it at full speed."),
    ),
    "body_not_measurable": (
        sayable("the body is not seen"),
        sayable("Keep the whole body in the picture."),
    ),
    "nobody_found": (
        sayable("nobody was found in the film"),
        sayable("Check that the pose estimator finds the player, and that its points are sent."),
    ),
    "camera_moves": (
        sayable("the camera moves"),
        sayable("Use a tripod, or hold the camera still and don't zoom."),
    ),
    "camera_leans": (
        sayable("the camera leans"),
        sayable("Use a tripod and its level; film on level ground."),
    ),
    "legs_exchanged": (
        sayable("left and right exchanged in the legs"),
        sayable("Check the order of the points that are sent; or use a larger pose model."),
    ),
    "joints_out_of_order": (
        sayable("two joints exchanged in an arm or a leg"),
        sayable("Check the order of the points that are sent."),
    ),
    "cut_out_coordinates": (
        sayable("each frame is cut out about the player"),
        sayable("Send places in the film's whole picture."),
    ),
    "picture_squeezed": (
        sayable("the picture is squeezed"),
        sayable("Send the picture at its true proportions."),
    ),
    "places_smoothed": (
        sayable("the places were smoothed before they were sent"),
        sayable("Switch the smoothing of the pose library off."),
    ),
    "times_off": (
        sayable("the film plays slow or fast"),
        sayable("Say how fast it plays (playback_speed), or film anew."),
    ),
    "player_sits": (
        sayable("the player sits"),
        sayable("Have a coach judge what is not tempo."),
    ),
    "hands_or_hips_not_seen": (
        sayable("hands or hips not seen"),
        sayable("Keep the whole body in the picture."),
    ),
    **dict.fromkeys(
        ("no_downswing", "hands_stay_level", "hands_apart", "looks_like_another_action"),
        (
            sayable("no golf swing"),
            sayable("Send one golf swing, from before the takeaway to the finish."),
        ),
    ),
    "times_no_swing_takes": (
        sayable("by its times the film is too short or too long for a swing"),
        sayable("Check fps, or that timestamps are in seconds, and playback_speed."),
    ),
    NOT_TOLD: (sayable("the reason was not kept"), sayable("Analyse these swings again.")),
}
"""Why a fault is not assessable: in words, and what to film instead."""
CLUB_ALONE: Final[str] = sayable(
    "Mark the club on the film by hand, or use a tracker that follows it: pose models leave it out."
)
"""What to do where only the club was not seen."""
BODY_ALONE: Final[str] = sayable("Keep the whole body and both feet in the picture.")
"""What to do where only joints were not seen."""


def why(code: str) -> str:
    """A reason in words."""
    return WHY[code][0] if code in WHY else code.replace("_", " ")


def film_instead(code: str) -> str | None:
    """What to film so that a reason falls away; ``None`` where nothing is known."""
    return WHY[code][1] if code in WHY else None
