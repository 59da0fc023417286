"""All courses of one swing: what turns, what shifts, and the arm and club that meet the ball."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from service.analysis.types import FloatArray
from training.simulator.body.clubs import SETUPS
from training.simulator.driven.courses.pendulum import Hinging, Wrists, hinging
from training.simulator.driven.courses.strokes import (
    Clock,
    Course,
    Places,
    Shift,
    Stroke,
    shift,
    step,
    stroke,
)
from training.simulator.driven.courses.trunk import body_courses, lags
from training.simulator.driven.figure.contact import Contact, address, impact
from training.simulator.driven.manner import AfterFinish, Waggles
from training.simulator.driven.player import Player

_HEAD_DOWN: Final[float] = 41.0
"""Pitch of the head at address, degrees; judgement."""
_HEAD_UP: Final[float] = 5.0
_LEAST_FOLD: Final[float] = 8.0
"""Degrees by which the wrists fold on after impact, at least."""
_PLANE_EARLY: Final[float] = 0.15
"""Backswings before the top by which the planes of arm and club have come to theirs, so that the
arm's own turning back is what is seen last."""
_WITH_THE_BEND: Final[float] = 0.7
_USUAL_BEND: Final[float] = 34.0
"""Degrees; shoulders that turn about a trunk bent more have the arm in a more upright plane, by
that share."""
_MOST_FOLDED: Final[float] = -150.0
_GIVES_ON: Final[float] = 0.4
"""Of what the body gives at impact, what is left of it in the finish."""


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
        soon = clock.impact + 0.28 * clock.down
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
        down = step(times, clock.leaves - 0.02 * clock.down, clock.leaves + 0.45 * clock.down)
        back = step(times, clock.leaves + 0.45 * clock.down, clock.leaves + 0.97 * clock.down)
        return p["tip_top"] * up + (down_to - p["tip_top"]) * down - down_to * back

    def _club_inside(self, times: FloatArray) -> FloatArray:
        """Degrees by which the shaft points behind the player or before, most about P2."""
        back = step(times, self.clock.start, self.clock.top)
        return np.asarray(4.0 * self.player["club_inside_p2"] * back * (1.0 - back))

    def _elbow_out(self, times: FloatArray) -> FloatArray:
        clock = self.clock
        on = step(times, clock.impact - 0.15 * clock.down, clock.impact + 0.2 * clock.down)
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
    body = body_courses(p, clock)
    start = address(_at(body, 0.0), p)
    hit = impact(_at(body, clock.impact), start, rise, p)
    give = shift(clock, Places(0.0, 0.0, 1.0, _GIVES_ON))
    for k, name in enumerate(("pelvis_x", "pelvis_y", "pelvis_z")):
        body[name] = _given(body[name], give, float(hit.give[k]))
    lag = lags(p)
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
