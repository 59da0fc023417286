"""All courses of one swing: what turns, what shifts, and the arm and club that meet the ball."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from service.analysis.types import FloatArray
from training.simulator.body.clubs import SETUPS
from training.simulator.driven.body import standing_height
from training.simulator.driven.contact import Contact, address, impact
from training.simulator.driven.courses import (
    Clock,
    Course,
    Places,
    Shift,
    Stroke,
    shift,
    step,
    stroke,
)
from training.simulator.driven.pendulum import Hinging, Wrists, hinging
from training.simulator.driven.player import Player

_HEAD_DOWN: Final[float] = 41.0
"""Pitch of the head at address, degrees; judgement."""
_HEAD_UP: Final[float] = 5.0
_LEAST_FOLD: Final[float] = 8.0
"""Degrees by which the wrists fold on after impact, at least."""
_PLANE_EARLY: Final[float] = 0.15
"""Backswings before the top by which the planes of arm and club have come to theirs, so that the
arm's own turning back is what is seen last."""
_KNEE_LEADS: Final[float] = 0.3
"""Downswings before the arm's by which the trail knee turns inward, at least; judgement."""
_WITH_THE_BEND: Final[float] = 0.7
_USUAL_BEND: Final[float] = 34.0
"""Degrees; shoulders that turn about a trunk bent more have the arm in a more upright plane, by
that share."""
_MOST_FOLDED: Final[float] = -150.0
_INSIDE_THE_FOOT: Final[float] = 0.01
"""Of the lead ankle, where the pelvis comes to rest at most, statures; judgement."""
_GIVES_ON: Final[float] = 0.4
"""Of what the body gives at impact, what is left of it in the finish."""


@dataclass(frozen=True)
class AfterFinish:
    """What the player does once the swing has stopped.

    ``begins`` in seconds, ``takes`` seconds; ``drops`` are degrees by which the arm comes back
    (0 holds the finish), ``folds`` those by which the lead elbow bends on.
    """

    begins: float
    takes: float
    drops: float
    folds: float


@dataclass(frozen=True)
class Waggles:
    """So many waggles of the club before a swing, each so many seconds and degrees, the last one
    ending at ``until`` seconds."""

    count: int
    takes: float
    degrees: float
    until: float

    def at(self, times: FloatArray) -> FloatArray:
        """Degrees by which the wrists are set, at times, both of shape (n,)."""
        begin = self.until - self.count * self.takes
        on = (times > begin) & (times < self.until)
        return np.where(on, self.degrees * np.sin(np.pi * (times - begin) / self.takes) ** 2, 0.0)


@dataclass(frozen=True)
class Plan:
    """A swing as courses in time. ``body`` are the courses of feet, trunk and club's planes by
    name; ``tip_down`` degrees by which the shaft lies flatter than its plane coming down;
    ``creeps`` degrees by which the arm goes on in a pause at the top."""

    player: Player
    clock: Clock
    body: Mapping[str, Course]
    arm: Stroke
    hinge: Hinging
    start: Contact
    hit: Contact
    tip_down: float
    creeps: float
    waggles: Waggles
    after: AfterFinish

    def values(self, times: FloatArray) -> dict[str, FloatArray]:
        """Values by name at times, all of shape (n,)."""
        values = {name: course.at(times) for name, course in self.body.items()}
        after = self.after
        back = step(times, after.begins, after.begins + after.takes)
        values["arm"] = self._arm(times) + after.drops * back
        values["hinge"] = self.hinge.at(times) + self.waggles.at(times) + 0.5 * after.drops * back
        values["elbow"] = self._elbow(times) + after.folds * back
        values["tip"] = self._tip(times)
        values["club_inside"] = self._club_inside(times)
        values["elbow_out"] = self._elbow_out(times)
        values |= self._head(times)
        return values

    def _arm(self, times: FloatArray) -> FloatArray:
        clock = self.clock
        on = step(times, clock.top - 0.15 * clock.back, clock.leaves, 2.0, 1.3)
        off = step(times, clock.leaves, clock.impact)
        return self.arm.at(times) + self.creeps * (on - off)

    def _elbow(self, times: FloatArray) -> FloatArray:
        """Bend of the lead elbow: at the top, straight through the ball, folding to the finish."""
        p, clock = self.player, self.clock
        folds = clock.impact + p["fold_from"] * clock.through
        soon = clock.impact + 0.35 * clock.down
        up = step(times, clock.start + 0.4 * clock.back, clock.top)
        down = step(times, clock.leaves, clock.leaves + 0.9 * clock.down)
        on = step(times, clock.impact, soon)
        end = step(times, folds, clock.impact + 0.9 * clock.through)
        return (
            self.start.elbow
            + (p["elbow_top"] - self.start.elbow) * up
            + (self.hit.elbow - p["elbow_top"]) * down
            + (p["elbow_through"] - self.hit.elbow) * on
            + (p["elbow_end"] - p["elbow_through"]) * end
        )

    def _tip(self, times: FloatArray) -> FloatArray:
        """Degrees by which the shaft lies flatter than its plane: most early in the downswing."""
        p, clock, down_to = self.player, self.clock, self.tip_down
        up = step(times, clock.start + 0.2 * clock.back, clock.top)
        down = step(times, clock.leaves - 0.3 * clock.down, clock.leaves + 0.45 * clock.down)
        back = step(times, clock.leaves + 0.45 * clock.down, clock.leaves + 0.97 * clock.down)
        return p["tip_top"] * up + (down_to - p["tip_top"]) * down - down_to * back

    def _club_inside(self, times: FloatArray) -> FloatArray:
        """Degrees by which the shaft points behind the player or before, most about P2."""
        back = step(times, self.clock.start, self.clock.top)
        return np.asarray(4.0 * self.player["club_inside_p2"] * back * (1.0 - back))

    def _elbow_out(self, times: FloatArray) -> FloatArray:
        clock = self.clock
        on = step(times, clock.impact - 0.1 * clock.down, clock.impact + 0.3 * clock.down)
        off = step(times, clock.impact + 0.4 * clock.through, clock.finish)
        return np.asarray(self.player["elbow_out"] * (on - 0.7 * off))

    def _head(self, times: FloatArray) -> dict[str, FloatArray]:
        p, clock = self.player, self.clock
        back = step(times, clock.start, clock.top)
        begins = clock.impact - 0.3 * clock.down
        through = step(times, begins, begins + p["head_takes"] * clock.down)
        return {
            "head_turn": p["head_top"] * back + (p["head_end"] - p["head_top"]) * through,
            "head_pitch": _HEAD_DOWN + (_HEAD_UP - _HEAD_DOWN) * through,
        }


def plan(
    player: Player, clock: Clock, rise: float, creeps: float, waggles: Waggles, after: AfterFinish
) -> Plan:
    """Plan of a swing whose club meets the ball.

    Parameters
    ----------
    rise
        By how much higher than at address the hands come through impact, statures.
    """
    p = player
    body = _body(p, clock)
    start = address(_at(body, 0.0), p)
    hit = impact(_at(body, clock.impact), start, rise, p)
    give = shift(clock, Places(0.0, 0.0, 1.0, _GIVES_ON))
    for k, name in enumerate(("pelvis_x", "pelvis_y", "pelvis_z")):
        body[name] = _given(body[name], give, float(hit.give[k]))
    lag = _lags(p)
    top = p["arm_plane_top"] - _WITH_THE_BEND * (SETUPS[p.club].bend + p["bend"] - _USUAL_BEND)
    club_top = top + p["club_plane_top"]
    for name, places in (
        ("arm_plane", Places(start.arm_plane, top, hit.arm_plane, top - 4.0)),
        ("club_plane", Places(start.club_plane, club_top, hit.club_plane, club_top)),
        ("inside", Places(0.0, p["inside_top"], 0.0, p["inside_end"])),
    ):
        body[name] = shift(clock, places, early=_PLANE_EARLY)
    arm = stroke(
        clock,
        Places(start.arm, p["arm_top"], hit.arm, p["arm_end"]),
        lag["arm"],
        back=(p["arm_starts"], p["arm_stops"]),
        comes_down=p["arm_comes_down"],
    )
    folded = hit.club - hit.arm
    begins = max(lag["club"], p["set_begins"])
    sets = clock.start + clock.back * np.array([begins, min(begins + p["set_takes"], 1.0)])
    wrists = Wrists(
        start.club - start.arm,
        p["hinge_top"],
        folded,
        max(min(-p["cup"], folded - _LEAST_FOLD), _MOST_FOLDED),
        p["hinge_end"],
        (float(sets[0]), float(sets[1])),
        p["lag_more"],
        p["wrist_drag"],
        p["wrist_throw"],
    )
    hinge = hinging(arm, clock, wrists, p.arm / p.grip_to_head)
    tip_down = p["flat_down"] - 0.5 * (club_top + hit.club_plane)
    return Plan(p, clock, body, arm, hinge, start, hit, tip_down, creeps, waggles, after)


def _lags(p: Player) -> dict[str, float]:
    """By how much of the backswing arm, club and chest start after whichever leads."""
    drawn = {part: p[f"{part}_lags"] for part in ("arm", "club", "chest")}
    return {part: lag - min(drawn.values()) for part, lag in drawn.items()}


def _at(body: Mapping[str, Course], time: float) -> dict[str, FloatArray]:
    return {name: course.at(np.array([time])) for name, course in body.items()}


def _given(course: Course, give: Shift, amount: float) -> Shift:
    assert isinstance(course, Shift)
    p, g = course.places, give.places
    places = Places(
        p.address,
        p.top + amount * g.top,
        p.impact + amount * g.impact,
        p.finish + amount * g.finish,
    )
    return Shift(course.clock, places, course.lead)


def _body(p: Player, clock: Clock) -> dict[str, Course]:
    bend = SETUPS[p.club].bend + p["bend"]
    height, back = standing_height(p), p["balance"]
    lead = p["pelvis_leads"]
    lag = _lags(p)
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
