"""Which faults the footage of a swing shows, and why it does not show the others."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache, lru_cache
from typing import Final, NamedTuple

from service.analysis.events.orientation import LEAST_VIEW_CONFIDENCE
from service.analysis.faults import FaultDefinition
from service.analysis.measured import MeasuredSwing
from service.analysis.types import Intent, Reason, View

_CONTRADICTED: Final[Mapping[str, Reason]] = {
    "joints_out_of_order": Reason(
        "joints_out_of_order",
        "Two joints of an arm or a leg seem exchanged; check the order of the points that are "
        "sent.",
    ),
    "cut_out_coordinates": Reason(
        "cut_out_coordinates",
        "The coordinates seem to be those of a piece cut out about the player in each frame; send "
        "places in the film's whole picture.",
    ),
    "picture_squeezed": Reason(
        "picture_squeezed",
        "The picture seems squeezed or stretched, so that angles and lengths are off; send it at "
        "its true proportions.",
    ),
    "view_contradicts_picture": Reason(
        "view_unsure",
        "The clip looks as if filmed from another side than was said; leave view out or correct "
        "it.",
    ),
    "handedness_contradicts_motion": Reason(
        "handedness_unsure",
        "The player moves as if playing the other way round than was said, so that lead and trail "
        "may be exchanged; leave handedness out or correct it, or mirror a mirrored film back.",
    ),
}
"""By the remark on what was sent and contradicts what is seen: why nothing is judged by it."""
_HIDDEN: Final[Mapping[str, Reason]] = {
    "camera_moves": Reason(
        "camera_moves",
        "The picture moves, so that what travels over the ground can't be told; hold the camera "
        "still.",
    ),
    "camera_leans": Reason(
        "camera_leans",
        "The picture is well off level or the player stands on a steep slope, so that what lies "
        "over what can't be told; level the camera.",
    ),
    "legs_exchanged": Reason(
        "legs_exchanged",
        "Left and right seem exchanged in the legs; check the order of the points that are sent.",
    ),
    "places_smoothed": Reason(
        "places_smoothed",
        "The places seem to have been smoothed before they were sent, so that hands stay too high "
        "at impact; switch the pose library's smoothing off.",
    ),
    "plays_fast": Reason(
        "times_off",
        "The film seems to play fast, so that the hands seem too high at impact; say how fast it "
        "plays (playback_speed), or film anew.",
    ),
}
"""By the remark why faults that :attr:`FaultDefinition.unless` names it for are not judged."""
_SITS: Final = Reason(
    "player_sits", "The player seems to sit, and this is a fault of players who stand."
)
_CLOCK_OFF: Final[frozenset[str]] = frozenset({"plays_slow", "plays_fast", "plays_unevenly"})
"""Remarks on a film whose times are not the player's, by which no haste is judged: where only part
of a film plays slow, backswing and downswing go by different clocks."""


class FilmingConditions(NamedTuple):
    """What decides which faults the footage of a swing can show."""

    view: View
    view_is_sure: bool
    intent: Intent
    remarks: tuple[str, ...]
    """Codes of the remarks on the footage."""

    @classmethod
    def of(cls, swing: MeasuredSwing) -> FilmingConditions:
        """Of one swing."""
        sure = swing.view.confidence >= LEAST_VIEW_CONFIDENCE
        return cls(swing.view.value, sure, swing.intent, swing.quality.codes)


@lru_cache(maxsize=256)
def not_shown(
    definitions: tuple[FaultDefinition, ...], conditions: FilmingConditions
) -> tuple[Reason | None, ...]:
    """Of each fault why such footage does not show it, if so; most clips of a camera are alike."""
    return tuple(_why_not_shown(definition, conditions) for definition in definitions)


def _why_not_shown(definition: FaultDefinition, conditions: FilmingConditions) -> Reason | None:
    codes = conditions.remarks
    if definition.full_speed_only and conditions.intent is Intent.REHEARSAL:
        return Reason("rehearsal", "A slow rehearsal can't show this; film it at full speed.")
    if definition.full_speed_only and not _CLOCK_OFF.isdisjoint(codes):
        return Reason(
            "times_off",
            "The film seems to play slow or fast, so that times can't be judged; say how "
            "fast it plays (playback_speed), or film anew.",
        )
    contradicted = next((_CONTRADICTED[code] for code in codes if code in _CONTRADICTED), None)
    if contradicted is not None:
        return contradicted
    if conditions.view not in definition.criteria:
        return _other_view(definition.views, conditions.view)
    hidden = _hidden(definition, codes)
    if hidden is not None:
        return hidden
    if len(definition.views) == 1 and not conditions.view_is_sure:
        return Reason(
            "view_unsure",
            "It is not clear from where the clip was filmed; say whether it is face on or down the "
            "line.",
        )
    return None


def _hidden(definition: FaultDefinition, remarks: Sequence[str]) -> Reason | None:
    """Why the footage does not show this fault, by the codes of its remarks."""
    if "player_sits" in remarks and not definition.full_speed_only:
        return _SITS
    return next((_HIDDEN[code] for code in remarks if code in definition.unless), None)


@cache
def _other_view(views: tuple[View, ...], view: View) -> Reason:
    names = " or ".join(_in_words(each) for each in views)
    return Reason("view", f"This can only be seen {names}; the clip is {_in_words(view)}.")


def _in_words(view: View) -> str:
    return view.value.replace("_", " ")
