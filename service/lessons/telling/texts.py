"""What a recap says about each fault beside the catalogue's own words; common practice throughout.

One table, so that another language is another table of the same form.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from service.analysis.types import View


@dataclass(frozen=True)
class FaultTexts:
    """One fault's texts.

    Attributes
    ----------
    effect
        What it does to the swing.
    dose
        How often and how fast to do what the catalogue's checkpoint asks for.
    gone
        By view, what the player's own film shows when the fault is gone.
    """

    effect: str
    dose: str
    gone: Mapping[View, str]


_FACE_ON, _DOWN_THE_LINE = View.FACE_ON, View.DOWN_THE_LINE

TEXTS: Final[Mapping[str, FaultTexts]] = MappingProxyType(
    {
        "arms_lift_at_top": FaultTexts(
            effect="Arms and chest come apart, and the way down has to bring them together.",
            dose="Ten slow ones with a stop, then five at half pace without it.",
            gone={
                _DOWN_THE_LINE: (
                    "on the way to the top the hands move in as well as up, and there the lead arm "
                    "lies close to the line of the shoulders"
                ),
                _FACE_ON: (
                    "from lead arm level to the top the chest turns on while the lead arm rises "
                    "only a little more"
                ),
            },
        ),
        "shaft_steep_at_top": FaultTexts(
            effect="A steep club comes across the ball or has to be rescued on the way down.",
            dose="Ten slow ones with a stop at P5, counting one to the top and two to P5.",
            gone={
                _DOWN_THE_LINE: (
                    "at the start of the downswing the shaft points below the trail shoulder, over "
                    "the trail upper arm"
                ),
            },
        ),
        "trail_heel_kick": FaultTexts(
            effect="The weight goes to the toes, and the arms run out of room.",
            dose="Three sets of five balls; only those with the heel down at impact count.",
            gone={
                _DOWN_THE_LINE: "the trail heel stays down, or just off the ground, until impact",
                _FACE_ON: "the trail heel stays down, or just off the ground, until impact",
            },
        ),
        "elbows_separate": FaultTexts(
            effect="The arms get short through the ball, so that the strike moves on the face.",
            dose="Ten slow ones with a stop, then five half shots with a soft ball or towel "
            "between the forearms.",
            gone={
                _FACE_ON: (
                    "just after impact the elbows are no further apart than at address, or the "
                    "lead arm is nearly straight"
                ),
            },
        ),
        "lead_wrist_cup": FaultTexts(
            effect="Loft is added through the ball, so that height and strike vary.",
            dose="Ten half shots, holding P8 of each for a breath.",
            gone={
                _FACE_ON: (
                    "at shaft level after impact the clubhead has not folded far past the line of "
                    "the lead arm"
                ),
            },
        ),
        "trail_shoulder_drop": FaultTexts(
            effect="The swing bottoms out behind the ball.",
            dose="Ten slow ones with a stop at P6, then five at half pace.",
            gone={
                _FACE_ON: (
                    "just before impact the trail shoulder is lower than the lead shoulder, but "
                    "not sunk far under it"
                ),
            },
        ),
        "handle_rise": FaultTexts(
            effect="The toe of the club points down, so that direction and strike vary.",
            dose="Ten slow ones in front of a mirror, then ten half shots.",
            gone={
                _DOWN_THE_LINE: "at impact the hands are about as high as they were at address",
                _FACE_ON: "at impact the hands are about as high as they were at address",
            },
        ),
        "trail_knee_drive": FaultTexts(
            effect="It takes away the room in which the arms should come down.",
            dose="Ten slow ones, counting one to P5 and two to P6.",
            gone={
                _DOWN_THE_LINE: (
                    "from lead arm level coming down to shaft level the trail knee stays back "
                    "from the ball"
                ),
            },
        ),
        "upper_body_drift": FaultTexts(
            effect="The low point of the swing moves with it, and the way back has to be timed.",
            dose="Ten slow backswings, then five balls at half pace without the shaft.",
            gone={
                _FACE_ON: "up to the top the chest turns without leaving its place over the feet",
            },
        ),
        "long_backswing": FaultTexts(
            effect="The arms arrive late, so that the strike is hard to repeat.",
            dose="Ten slow ones with a stop, then ten balls at three-quarter pace.",
            gone={
                _FACE_ON: "at the top the lead arm points up and back, not straight up",
            },
        ),
        "hurried_transition": FaultTexts(
            effect="The body can't lead the way down, so that path and strike vary.",
            dose="Ten slow ones, then ten balls at three-quarter pace, counting aloud.",
            gone={
                _DOWN_THE_LINE: "the way back takes well over twice as long as the way down",
                _FACE_ON: "the way back takes well over twice as long as the way down",
            },
        ),
        "chest_stall": FaultTexts(
            effect="The arms have to finish alone, so that strike and direction vary.",
            dose="Ten half shots, holding P9 of each for a breath.",
            gone={
                _FACE_ON: (
                    "at trail arm level after impact the chest faces well toward the target, or "
                    "the eyes have left the ball"
                ),
            },
        ),
        "trunk_straightens": FaultTexts(
            effect="The club is lifted off its path, so that the strike is thin or off the heel.",
            dose="Ten slow ones with a stop at impact, then ten half shots.",
            gone={
                _DOWN_THE_LINE: (
                    "at impact the trunk is bent toward the ball nearly as much as at address"
                ),
            },
        ),
        "hips_toward_ball": FaultTexts(
            effect="The arms run out of room, so that the strike moves to the heel of the club.",
            dose="Ten slow ones with the chair, then ten half shots without it.",
            gone={
                _DOWN_THE_LINE: (
                    "from shaft level coming down to impact the pelvis is no nearer the ball than "
                    "at address, or only a little"
                ),
            },
        ),
        "hips_past_lead_foot": FaultTexts(
            effect="There is nothing firm to turn about, so that the swing's low point wanders.",
            dose="Ten slow ones from the top, then ten half shots without the shaft.",
            gone={
                _FACE_ON: (
                    "at impact the lead hip is over the lead foot and not past it, or the pelvis "
                    "has moved toward the target only a little since address"
                ),
            },
        ),
        "wrists_open_early": FaultTexts(
            effect="The speed is spent too soon, and the swing bottoms out behind the ball.",
            dose="Ten slow ones with a stop at P5, then ten half shots.",
            gone={
                _FACE_ON: (
                    "at lead arm level coming down the shaft is still about square to the lead "
                    "arm, or opened little since the top"
                ),
            },
        ),
    }
)
"""By the catalogue's names."""
