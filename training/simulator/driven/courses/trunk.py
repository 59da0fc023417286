"""Courses of feet, legs, trunk and chest: what the body does under arms and club."""

from __future__ import annotations

from typing import Final

from training.simulator.body.clubs import SETUPS
from training.simulator.driven.courses.strokes import Clock, Course, Places, Shift, shift, stroke
from training.simulator.driven.figure.body import standing_height
from training.simulator.driven.player import Player

_KNEE_LEADS: Final[float] = 0.3
"""Downswings before the arm's by which the trail knee turns inward, at least; judgement."""
_INSIDE_THE_FOOT: Final[float] = 0.01
"""Of the lead ankle, where the pelvis comes to rest at most, statures; judgement."""


def lags(p: Player) -> dict[str, float]:
    """By how much of the backswing arm, club and chest start after whichever leads."""
    drawn = {part: p[f"{part}_lags"] for part in ("arm", "club", "chest")}
    return {part: lag - min(drawn.values()) for part, lag in drawn.items()}


def body_courses(p: Player, clock: Clock) -> dict[str, Course]:
    """Courses by name, statures and degrees, of the body of a player by a clock."""
    bend = SETUPS[p.club].bend + p["bend"]
    height, back = standing_height(p), p["balance"]
    lead = p["pelvis_leads"]
    lag = lags(p)
    over_the_foot = min(1.6 * p["shift"] + 0.015, p.half_stance - _INSIDE_THE_FOOT)

    def moved(address: float, top: float, impact: float, finish: float, soon: float) -> Shift:
        return shift(clock, Places(address, top, impact, finish), soon)

    return {
        "pelvis_x": moved(0.0, p["sway"], p["shift"], over_the_foot, lead),
        "pelvis_y": moved(
            height, height + 0.5 * p["squat"], height + p["squat"] + p["rise"], height + 0.03, lead
        ),
        "pelvis_z": moved(
            back, back - 0.003, back + p["to_ball"], back + p["to_ball"] + 0.025, lead
        ),
        "pelvis_turn": stroke(
            clock,
            Places(0.0, p["pelvis_top"], p["pelvis_impact"], p["pelvis_end"]),
            lag["chest"],
            lead=lead,
        ),
        "chest_turn": stroke(
            clock,
            Places(0.0, p["chest_top"], p["chest_impact"], p["chest_end"]),
            lag["chest"],
            p["chest_early"],
            p["chest_leads"],
        ),
        "bend": moved(bend, bend + 0.5, bend - p["bend_lost"], p["bend_end"], 0.0),
        "side": moved(p["side_address"], p["side_top"], p["side_impact"], p["side_end"], 0.0),
        "chest_tilt": moved(p["tilt_address"], p["tilt_top"], p["tilt_impact"], 0.0, 0.0),
        "lead_heel": moved(0.0, max(p["lead_heel_top"], 0.0), 0.0, 0.0, lead),
        "trail_heel": moved(0.0, 0.0, p["heel_impact"], p["heel_end"], 0.0),
        "trail_spin": moved(0.0, 0.0, p["spin_impact"], 42.0, 0.0),
        "knee_in": moved(0.0, 0.0, p["knee_in"], 75.0, max(lead, _KNEE_LEADS)),
    }
