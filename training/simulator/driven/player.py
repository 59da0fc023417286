"""The player whose arm and club are a pendulum: a body, a club, a tempo and a way of swinging."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from service.analysis.types import Club, Handedness
from training.simulator.body.clubs import HAND_FROM_BUTT, SETUPS, club_length

_COMMON: Final = "common practice"
_GROBER: Final = "Grober & Cholewicki 2006, arXiv physics/0611291"
_LEVA: Final = "de Leva 1996, J. Biomech. 29, 1223-1230, from memory; spread is ours"
_TRIED: Final = "tried out, so that club and body meet the ball as players' do"

# name: (least, most, source). Lengths in statures, angles in degrees.
RANGES: Final[dict[str, tuple[float, float, str]]] = {
    # Body
    "upper_arm": (0.160, 0.186, _LEVA),
    "forearm": (0.141, 0.163, _LEVA),
    "hand": (0.042, 0.055, _LEVA),
    "thigh": (0.229, 0.257, _LEVA),
    "shank": (0.233, 0.261, _LEVA),
    "spine": (0.274, 0.310, _LEVA),
    "ankle_height": (0.039, 0.051, _COMMON),
    "foot": (0.140, 0.160, _COMMON),
    "shoulder_width": (0.180, 0.230, _COMMON),
    "hip_width": (0.092, 0.124, _COMMON),
    # Address
    "stance": (-0.045, 0.045, _COMMON),
    "bend": (-7.0, 10.0, _COMMON),
    "hang": (12.0, 27.0, _COMMON),
    "elbow_address": (4.0, 15.0, _COMMON),
    "knee_flex": (11.0, 29.0, _COMMON),
    "side_address": (3.0, 8.0, _COMMON),
    "tilt_address": (4.0, 10.0, _COMMON),
    "lean": (-0.020, 0.018, _COMMON),
    "balance": (-0.080, -0.040, _COMMON),
    "lead_flare": (6.0, 32.0, _COMMON),
    "trail_flare": (-2.0, 18.0, _COMMON),
    # Backswing
    "arm_top": (119.0, 142.0, _COMMON),
    "arm_plane_top": (35.0, 50.0, _COMMON),
    "club_plane_top": (-4.0, 7.0, _COMMON),
    "inside_top": (8.0, 26.0, _COMMON),
    "club_inside_p2": (-12.0, 12.0, _COMMON),
    "hinge_top": (78.0, 108.0, _COMMON),
    "elbow_top": (4.0, 20.0, _COMMON),
    "chest_top": (-103.0, -80.0, _COMMON),
    "chest_early": (0.0, 0.06, _COMMON),
    "pelvis_top": (-54.0, -33.0, _COMMON),
    "side_top": (-3.0, 5.0, _COMMON),
    "tilt_top": (-3.0, 3.0, _COMMON),
    "sway": (-0.018, 0.012, _COMMON),
    "lead_heel_top": (-18.0, 14.0, _COMMON),
    "head_top": (-26.0, 2.0, _COMMON),
    "tip_top": (-6.0, 10.0, _COMMON),
    # Downswing and impact
    "flat_down": (70.0, 86.0, _COMMON),
    "wrist_drag": (-1.6, 0.2, _TRIED),
    "wrist_throw": (0.0, 1.0, _TRIED),
    "lag_more": (0.0, 9.0, _COMMON),
    "chest_impact": (14.0, 32.0, _COMMON),
    "pelvis_impact": (24.0, 44.0, _COMMON),
    "bend_lost": (-3.0, 4.5, _COMMON),
    "side_impact": (3.0, 11.0, _COMMON),
    "tilt_impact": (-2.0, 5.0, _COMMON),
    "shift": (0.020, 0.055, _COMMON),
    "to_ball": (-0.010, 0.015, _COMMON),
    "squat": (-0.010, 0.004, _COMMON),
    "rise": (0.0, 0.012, _COMMON),
    "hands_ahead": (0.018, 0.060, _COMMON),
    "hands_rise": (0.001, 0.026, _COMMON),
    "elbow_impact": (4.0, 14.0, _COMMON),
    "knee_in": (34.0, 72.0, _COMMON),
    "heel_impact": (0.0, 9.0, _COMMON),
    "spin_impact": (-3.0, 4.0, _COMMON),
    # Through
    "cup": (64.0, 102.0, _COMMON),
    "elbow_through": (5.0, 16.0, _COMMON),
    "elbow_end": (65.0, 105.0, _COMMON),
    "elbow_out": (0.0, 0.0, _COMMON),
    "fold_from": (0.17, 0.33, _COMMON),
    "arm_end": (-152.0, -114.0, _COMMON),
    "hinge_end": (-112.0, -74.0, _COMMON),
    "chest_end": (98.0, 124.0, _COMMON),
    "pelvis_end": (84.0, 106.0, _COMMON),
    "bend_end": (-6.0, 10.0, _COMMON),
    "side_end": (-3.0, 8.0, _COMMON),
    "head_end": (64.0, 86.0, _COMMON),
    "head_takes": (0.8, 1.4, _COMMON),
    "inside_end": (-12.0, 6.0, _COMMON),
    "heel_end": (56.0, 80.0, _COMMON),
    # Time
    "downswing": (0.200, 0.330, _GROBER),
    "tempo": (2.45, 3.9, _GROBER),
    "through": (0.36, 0.88, _COMMON),
    "arm_starts": (1.6, 3.0, _TRIED),
    "arm_stops": (1.2, 2.3, _TRIED),
    "arm_comes_down": (1.9, 3.2, _TRIED),
    "arm_lags": (0.0, 0.09, _COMMON),
    "club_lags": (0.0, 0.06, _COMMON),
    "chest_lags": (0.0, 0.09, _COMMON),
    "set_begins": (0.0, 0.20, _COMMON),
    "set_takes": (0.55, 1.0, _COMMON),
    "pelvis_leads": (0.0, 0.26, _COMMON),
    "chest_leads": (-0.10, 0.08, _COMMON),
}
"""What is drawn for a player. At P1 to P10 where the name says so, at the top, impact and the
finish. Of the tempo: ratio of backswing to downswing about 3 to 1 with downswings of 0.2 to 0.35 s;
``arm_starts``, ``arm_stops`` and ``arm_comes_down`` are powers of the arm's strokes; lags, leads
and the setting of the wrists are shares of the backswing or downswing, ``fold_from`` one of the way
through; ``head_takes`` is in downswings; ``flat_down`` is how far the shaft lies from upright
coming down. ``wrist_drag`` and ``wrist_throw`` are those of
:class:`~training.simulator.driven.courses.pendulum.Wrists`."""
_FULLNESS: Final = 1.6
"""Of the beta distribution that draws within a range: wide, with its mean in the middle."""
_STATURES: Final = ((1.79, 0.075), (1.66, 0.065), (1.48, 0.10))
_STATURE_SHARES: Final = (0.55, 0.30, 0.15)
_LEFT_HANDED: Final = 0.1


@dataclass(frozen=True)
class Player:
    """Somebody who swings.

    ``stature`` in metres; ``style`` holds one number for every name of :data:`RANGES`.
    """

    stature: float
    club: Club
    handedness: Handedness
    style: dict[str, float]

    def __getitem__(self, name: str) -> float:
        """A number of the style."""
        return self.style[name]

    @property
    def arm(self) -> float:
        """Length of the straight arm from shoulder to wrist, statures."""
        return self["upper_arm"] + self["forearm"]

    @property
    def half_stance(self) -> float:
        """Half of the distance between the ankles, statures."""
        return 0.5 * (SETUPS[self.club].stance + self["stance"])

    @property
    def grip_to_head(self) -> float:
        """From the knuckles of the lead hand to the clubhead, statures."""
        return (club_length(self.club, self.stature) - HAND_FROM_BUTT) / self.stature


def usual_player(club: Club = Club.MID_IRON, stature: float = 1.78) -> Player:
    """Player of the middle style, right-handed."""
    middle = {n: 0.5 * (least + most) for n, (least, most, _) in RANGES.items()}
    return Player(stature, club, Handedness.RIGHT, middle)


def random_player(rng: np.random.Generator) -> Player:
    """Man, woman or junior with any club and any sound style, one in ten left-handed."""
    mean, spread = _STATURES[rng.choice(len(_STATURES), p=_STATURE_SHARES)]
    stature = float(np.clip(rng.normal(mean, spread), 1.2, 2.05))
    clubs = tuple(SETUPS)
    club = clubs[rng.integers(len(clubs))]
    handedness = Handedness.LEFT if rng.random() < _LEFT_HANDED else Handedness.RIGHT
    shares = rng.beta(_FULLNESS, _FULLNESS, len(RANGES))
    style = {
        name: float(least + share * (most - least))
        for (name, (least, most, _)), share in zip(RANGES.items(), shares, strict=True)
    }
    return Player(stature, club, handedness, style)
