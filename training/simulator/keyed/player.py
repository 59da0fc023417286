"""The player of key positions: a body, a club, a tempo and a way of swinging, all drawn.

Ranges are those of :data:`RANGES`: mean, standard deviation and the published or usual range that
draws are cut off at.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from service.analysis.types import Club, Handedness

_MEMORY: Final = "from memory of coaching literature"
_COMMON: Final = "common practice"
_GROBER: Final = "Grober & Cholewicki 2006, arXiv physics/0611291"
_LEVA: Final = "de Leva 1996, J. Biomech. 29, 1223-1230, from memory; spread is ours"

# name: (mean, standard deviation, least, most, source). Lengths in statures, angles in degrees.
RANGES: Final[dict[str, tuple[float, float, float, float, str]]] = {
    # Body
    "upper_arm": (0.172, 0.006, 0.158, 0.188, _LEVA),
    "forearm": (0.152, 0.005, 0.14, 0.164, _LEVA),
    "hand": (0.048, 0.003, 0.042, 0.055, _LEVA),
    "thigh": (0.243, 0.007, 0.228, 0.258, _LEVA),
    "shank": (0.247, 0.007, 0.232, 0.262, _LEVA),
    "spine": (0.292, 0.009, 0.272, 0.312, _LEVA),
    "ankle_height": (0.045, 0.003, 0.039, 0.052, _COMMON),
    "foot": (0.150, 0.005, 0.14, 0.16, _COMMON),
    "shoulder_width": (0.205, 0.012, 0.178, 0.232, _COMMON),
    "hip_width": (0.108, 0.008, 0.09, 0.126, _COMMON),
    # Address
    "stance": (0.0, 0.030, -0.06, 0.06, _COMMON),
    "bend": (0.0, 6.0, -11.0, 12.0, _COMMON),
    "hang": (19.0, 4.0, 10.0, 28.0, _COMMON),
    "address_reach": (0.975, 0.012, 0.945, 0.993, _COMMON),
    "knee_flex": (19.0, 5.0, 9.0, 30.0, _COMMON),
    "side_tilt": (5.0, 2.0, 1.0, 9.0, _COMMON),
    "lean": (0.0, 0.012, -0.024, 0.024, _COMMON),
    "balance": (-0.052, 0.010, -0.075, -0.03, _COMMON),
    "lead_flare": (18.0, 8.0, 0.0, 35.0, _COMMON),
    "trail_flare": (8.0, 6.0, -4.0, 20.0, _COMMON),
    # Backswing
    "pelvis_turn_top": (43.0, 7.0, 28.0, 58.0, _MEMORY),
    "chest_turn_top": (91.0, 8.0, 75.0, 108.0, _MEMORY),
    "sway": (-0.004, 0.009, -0.022, 0.014, _COMMON),
    "neck_shift_top": (-0.010, 0.010, -0.032, 0.010, _COMMON),
    "arm_swing_top": (136.0, 8.0, 112.0, 151.0, _COMMON),
    "above_shoulders": (9.0, 5.0, -3.0, 17.0, _COMMON),
    "lead_reach_top": (0.984, 0.012, 0.94, 0.997, _COMMON),
    "hands_in_p2": (0.0, 0.08, -0.16, 0.16, _COMMON),
    "arm_in_p3": (16.0, 7.0, 2.0, 30.0, _COMMON),
    "hinge_p3": (72.0, 10.0, 50.0, 90.0, _COMMON),
    "hinge_top": (96.0, 10.0, 74.0, 116.0, _COMMON),
    "plane_top": (41.0, 6.0, 29.0, 53.0, _COMMON),
    "plane_p3": (60.0, 6.0, 48.0, 72.0, _COMMON),
    "shaft_in_p2": (0.0, 7.0, -14.0, 14.0, _COMMON),
    "lead_heel_top": (0.0, 0.012, 0.0, 0.028, _COMMON),
    "head_turn_top": (-14.0, 7.0, -28.0, 0.0, _COMMON),
    # Downswing and impact
    "pelvis_open": (38.0, 7.0, 22.0, 52.0, _MEMORY),
    "chest_open": (27.0, 7.0, 12.0, 42.0, _MEMORY),
    "shift": (0.045, 0.010, 0.022, 0.068, _COMMON),
    "neck_back_impact": (-0.006, 0.010, -0.028, 0.010, _COMMON),
    "squat": (-0.006, 0.007, -0.022, 0.006, _COMMON),
    "arm_in_p5": (17.0, 5.0, 7.0, 27.0, _COMMON),
    "hinge_p5": (88.0, 10.0, 66.0, 106.0, _COMMON),
    "plane_p5": (19.0, 4.0, 11.0, 27.0, _COMMON),
    "shaft_out_p6": (0.0, 6.0, -12.0, 12.0, _COMMON),
    "hands_ahead": (0.040, 0.010, 0.018, 0.062, _COMMON),
    "hands_rise": (0.017, 0.007, 0.002, 0.031, _COMMON),
    "impact_reach": (0.982, 0.010, 0.955, 0.996, _COMMON),
    "trail_bank": (10.0, 6.0, 0.0, 22.0, _COMMON),
    # Through
    "through_reach": (0.95, 0.014, 0.91, 0.975, _COMMON),
    "chest_p9": (82.0, 7.0, 70.0, 98.0, _COMMON),
    "chest_end": (104.0, 10.0, 80.0, 125.0, _COMMON),
    "pelvis_end": (88.0, 9.0, 68.0, 105.0, _COMMON),
    "head_p9": (46.0, 11.0, 27.0, 70.0, _COMMON),
    "bend_end": (6.0, 6.0, -6.0, 18.0, _COMMON),
    "hinge_p9": (70.0, 12.0, 45.0, 95.0, _COMMON),
    "finish_wrap": (0.8, 0.25, 0.15, 1.1, _COMMON),
    "trail_heel_end": (64.0, 10.0, 40.0, 78.0, _COMMON),
    # Time
    "downswing": (0.265, 0.025, 0.215, 0.35, _GROBER),
    "tempo": (3.0, 0.38, 2.35, 4.1, _GROBER),
    "through": (0.62, 0.09, 0.42, 0.85, _COMMON),
    "at_p2": (0.42, 0.045, 0.32, 0.52, _COMMON),
    "at_p3": (0.655, 0.04, 0.57, 0.74, _COMMON),
    "at_p5": (0.59, 0.035, 0.51, 0.67, _COMMON),
    "at_p6": (0.82, 0.018, 0.78, 0.86, _COMMON),
    "at_p8": (0.095, 0.012, 0.07, 0.125, _COMMON),
    "at_p9": (0.245, 0.025, 0.19, 0.31, _COMMON),
    "pelvis_leads": (0.30, 0.08, 0.12, 0.46, _MEMORY),
    "chest_leads": (0.15, 0.05, 0.04, 0.26, _MEMORY),
    "club_lags": (0.12, 0.05, 0.0, 0.24, _MEMORY),
}
"""What is drawn for a player. Of the tempo: ratio of backswing to downswing about 3 to 1 with
downswings of 0.2 to 0.35 s; its times between, and who leads whom, in shares of the backswing,
downswing and follow-through they lie in."""


@dataclass(frozen=True)
class ClubSetup:
    """A club: length in metres for a stature of 1.77 m; stance and ball place in statures; bend
    of the trunk in degrees; hands ahead of the ball in statures."""

    length: float
    stance: float
    ball: float
    bend: float
    lean: float


# Common practice.
CLUBS: Final[dict[Club, ClubSetup]] = {
    Club.DRIVER: ClubSetup(1.14, 0.30, 0.075, 19.0, -0.030),
    Club.FAIRWAY_WOOD: ClubSetup(1.08, 0.285, 0.060, 21.0, -0.018),
    Club.HYBRID: ClubSetup(1.02, 0.27, 0.045, 23.0, -0.008),
    Club.LONG_IRON: ClubSetup(0.985, 0.26, 0.035, 25.0, 0.002),
    Club.MID_IRON: ClubSetup(0.945, 0.25, 0.020, 27.0, 0.008),
    Club.SHORT_IRON: ClubSetup(0.915, 0.235, 0.010, 28.5, 0.012),
    Club.WEDGE: ClubSetup(0.89, 0.22, 0.005, 30.0, 0.016),
}
_STATURES: Final = ((1.78, 0.075), (1.65, 0.065), (1.46, 0.10))
_STATURE_SHARES: Final = (0.55, 0.30, 0.15)


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
    def club_length(self) -> float:
        """Length of the club in statures."""
        fitted = CLUBS[self.club].length * (self.stature / 1.77) ** 0.7
        return float(min(fitted, 1.2192) / self.stature)


def usual_player() -> Player:
    """Player of the mean style and stature with a middle iron, right-handed."""
    return Player(1.78, Club.MID_IRON, Handedness.RIGHT, {n: r[0] for n, r in RANGES.items()})


def random_player(rng: np.random.Generator) -> Player:
    """Man, woman or junior with any club and any sound style, one in ten left-handed."""
    mean, spread = _STATURES[rng.choice(len(_STATURES), p=_STATURE_SHARES)]
    stature = float(np.clip(rng.normal(mean, spread), 1.2, 2.05))
    clubs = tuple(CLUBS)
    club = clubs[rng.integers(len(clubs))]
    handedness = Handedness.LEFT if rng.random() < 0.1 else Handedness.RIGHT
    style = {
        name: float(np.clip(rng.normal(mean, sd), least, most))
        for name, (mean, sd, least, most, _) in RANGES.items()
    }
    return Player(stature, club, handedness, style)
