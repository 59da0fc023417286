"""Key positions in time: a swing whose joints, true positions and duration are known."""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from functools import cached_property
from typing import Final

import numpy as np
from scipy.interpolate import Akima1DInterpolator

from service.analysis.types import Club, FloatArray, Handedness, Intent
from training.simulator.amounts import FaultAmounts
from training.simulator.keyed import faults
from training.simulator.keyed.keys import P4, Keys, lay_body, lower_to_legs, reach_for_the_club
from training.simulator.keyed.player import Player, random_player
from training.simulator.keyed.reach import Pose, joints_of
from training.simulator.keyed.shorter import shortened
from training.simulator.keyed.vectors import first_axis, frame_quaternions
from training.simulator.swing.motion import to_anatomical
from training.simulator.true_positions import position_times

# Fields of the pose by the clock they keep, and their width.
_LOWER: Final = ("pelvis", "pelvis_up", "pelvis_turn", "feet", "knees")
_TRUNK: Final = ("neck", "chest_turn", "head")
_ARMS: Final = ("anchor", "arm", "elbows")
_CLUB: Final = ("club",)
_LEAST_APART: Final[float] = 0.004
"""Seconds between two knots, at least."""
_EVEN: Final[float] = 0.66
"""Times the ratio of backswing to downswing in a rehearsal, which is more even; judgement."""
_WAGGLE: Final[float] = 0.32
"""Seconds that a waggle takes to go away, and as many to come back; judgement."""


@dataclass(frozen=True)
class Track:
    """One clock of the body: knot times of shape (n_knots,) and the values at them by name."""

    times: FloatArray
    values: dict[str, FloatArray]

    def at(self, times: FloatArray) -> dict[str, FloatArray]:
        """Values at times, on curves that stay within what their neighbours span (modified
        Akima) and rest where three knots are the same."""
        held = np.clip(times, self.times[0], self.times[-1])
        return {
            name: np.asarray(Akima1DInterpolator(self.times, v, method="makima")(held))
            for name, v in self.values.items()
        }


@dataclass(frozen=True)
class KeyedSwing:
    """One clip of a player of key positions; times in seconds."""

    golfer: Player
    amounts: FaultAmounts
    intent: Intent
    swing_start: float
    duration: float
    tracks: tuple[Track, ...] = field(repr=False)

    @property
    def handedness(self) -> Handedness:
        """Which way the player plays."""
        return self.golfer.handedness

    @property
    def club(self) -> Club:
        """The club in the player's hands."""
        return self.golfer.club

    def joints(self, times: FloatArray) -> FloatArray:
        """Joints of shape (n_times, N_POINTS, 3), metres, in anatomical order; a left-hander's
        world is the mirror image."""
        return to_anatomical(self.canonical_joints(times), self.handedness)

    def canonical_joints(self, times: FloatArray) -> FloatArray:
        """The same as a right-hander's, lead and trail instead of left and right."""
        found: dict[str, FloatArray] = {}
        for track in self.tracks:
            found |= track.at(np.asarray(times, dtype=float))
        pose = Pose(
            pelvis=found["pelvis"],
            neck=found["neck"],
            pelvis_up=found["pelvis_up"],
            pelvis_turn=found["pelvis_turn"],
            chest_turn=found["chest_turn"],
            anchor=found["anchor"],
            arm=found["arm"],
            shaft=first_axis(found["club"]),
            poles=np.concatenate([found["knees"], found["elbows"]], axis=1),
            feet=found["feet"],
            head=found["head"],
        )
        return joints_of(pose, self.golfer) * self.golfer.stature

    @cached_property
    def position_times(self) -> FloatArray:
        """True times of P1 to P10, shape (10,), by the same words as for every other swing
        (:func:`training.simulator.true_positions.position_times`); NaN where not reached."""
        return position_times(
            self.canonical_joints, self.swing_start, self.duration, self.golfer.stature
        )


def key_positions(player: Player, amounts: FaultAmounts) -> Keys:
    """Key positions of a player with some faults."""
    shown = faults.styled(player, amounts)
    keys = lay_body(shown)
    faults.move_body(keys, amounts)
    lower_to_legs(keys.pelvis, keys.pelvis_up, keys.pelvis_turn, keys.feet, shown)
    reach_for_the_club(
        keys,
        shown,
        faults.HANDLE_RISE * amounts.handle_rise,
        faults.HANDS_BACK * amounts.lead_wrist_cup,
    )
    faults.move_hands(keys, amounts)
    return keys


def keyed_swing(
    player: Player,
    amounts: FaultAmounts | None = None,
    intent: Intent = Intent.FULL_SPEED,
    slower: float = 1.0,
    pause: float = 0.0,
    lead_in: float = 0.8,
    tail: float = 0.8,
    waggles: int = 0,
) -> KeyedSwing:
    """Swing of a player with some faults.

    Parameters
    ----------
    slower : float
        Factor on all times of the swing; a rehearsal is also more even.
    pause, lead_in, tail : float
        Seconds of stillness at the top, before the takeaway and in the finish.
    """
    amounts = amounts or FaultAmounts()
    shown = faults.styled(player, amounts)
    still = _Still(lead_in, pause, tail, waggles)
    start = lead_in + 2 * _WAGGLE * waggles
    at = _times_of_keys(shown, intent, slower, start, pause)
    tracks = _tracks(key_positions(player, amounts), at, shown, slower, still)
    return KeyedSwing(player, amounts, intent, start - 0.05, float(at[-1] + tail), tracks)


def random_keyed_swing(
    rng: np.random.Generator,
    player: Player | None = None,
    amounts: FaultAmounts | None = None,
    intent: Intent = Intent.FULL_SPEED,
    length: float = 1.0,
) -> KeyedSwing:
    """Swing of a given or drawn player; waiting, waggles, a pause and a rehearsal's pace vary.

    ``length`` is 1 for a full swing and 0.5 for a half; longer ones are left to the faults.
    """
    return keyed_swing(
        shortened(player or random_player(rng), length),
        amounts,
        intent,
        slower=float(rng.uniform(2.0, 4.0)) if intent is Intent.REHEARSAL else 1.0,
        pause=float(rng.uniform(0.05, 0.25)) if rng.random() < 0.12 else 0.0,
        lead_in=float(rng.uniform(0.4, 1.3)),
        tail=float(rng.uniform(0.4, 1.2)),
        waggles=int(rng.choice([0, 0, 1, 2])),
    )


@dataclass(frozen=True)
class _Still:
    """Seconds of stillness before, at the top and after, and how many waggles break the first."""

    lead_in: float
    pause: float
    tail: float
    waggles: int


def _times_of_keys(
    shown: Player, intent: Intent, slower: float, start: float, pause: float
) -> FloatArray:
    """Seconds at which the player gets to each of the ten keys, shape (10,)."""
    down = shown["downswing"] * slower
    ratio = shown["tempo"] if intent is Intent.FULL_SPEED else _EVEN * shown["tempo"]
    back, through = ratio * down, shown["through"] * slower
    up = start + back * np.array([0.0, shown["at_p2"], shown["at_p3"], 1.0])
    top = up[-1] + pause
    return np.concatenate(
        [
            up,
            top + down * np.array([shown["at_p5"], shown["at_p6"], 1.0]),
            top + down + through * np.array([shown["at_p8"], shown["at_p9"], 1.0]),
        ]
    )


def _tracks(
    keys: Keys, at: FloatArray, shown: Player, slower: float, still: _Still
) -> tuple[Track, ...]:
    """The clocks of lower body, trunk, arms and club, each sooner or later than the arms'."""
    values = _values(keys)
    down = shown["downswing"] * slower
    tracks = []
    for names, sooner in (
        (_LOWER, shown["pelvis_leads"]),
        (_TRUNK, shown["chest_leads"]),
        (_ARMS, 0.0),
        (_CLUB, -shown["club_lags"]),
    ):
        times, rows = _knots(at, sooner * down, still)
        chosen = {n: values[n][rows] for n in names}
        if "club" in chosen:
            _waggle(chosen["club"], still.waggles)
        tracks.append(Track(times, chosen))
    return tuple(tracks)


def _values(keys: Keys) -> dict[str, FloatArray]:
    values = {f.name: getattr(keys, f.name) for f in fields(keys)}
    poles = values.pop("poles")
    values |= {"knees": poles[:, :2], "elbows": poles[:, 2:]}
    values["club"] = frame_quaternions(values.pop("shaft"), values.pop("plane"))
    return values


def _knots(at: FloatArray, sooner: float, still: _Still) -> tuple[FloatArray, list[int]]:
    """Knot times and which key stands at each: rest, waggles, rest, the ten keys, rest.

    Parameters
    ----------
    at : array of shape (10,)
        Seconds of the keys.
    sooner : float
        Seconds by which P4 is left before the arms leave it.
    """
    times, rows = [0.0, 0.5 * still.lead_in], [0, 0]
    for k in range(2 * still.waggles):
        times.append(still.lead_in + k * _WAGGLE)
        rows.append(0)
    if still.waggles:
        times.append(at[0] - 0.12)
        rows.append(0)
        times.append(at[0] - 0.06)
        rows.append(0)
    for k, time in enumerate(at):
        times.append(float(time - sooner if k == P4 else time))
        rows.append(k)
        if k == P4 and still.pause > 0.0:
            times.append(float(time + still.pause - sooner))
            rows.append(k)
    times += [float(at[-1] + 0.5 * still.tail), float(at[-1] + still.tail)]
    rows += [9, 9]
    # Clocks drawn far apart may let a part reach its next place no later than the one before.
    for k in range(1, len(times)):
        times[k] = max(times[k], times[k - 1] + _LEAST_APART)
    return np.array(times), rows


def _waggle(club: FloatArray, waggles: int) -> None:
    """Tilt the club back at every second of the waggles' knots, in place: (n_knots, 4)."""
    for k in range(waggles):
        away = 3 + 2 * k
        club[away] = 0.8 * club[away] + 0.2 * club[_first_moving(club, away)]


def _first_moving(club: FloatArray, start: int) -> int:
    """First knot whose club differs from that at address: P2's."""
    moved = np.flatnonzero(np.abs(club[start + 1 :] - club[0]).max(axis=1) > 1e-9)
    return start + 1 + int(moved[0])
