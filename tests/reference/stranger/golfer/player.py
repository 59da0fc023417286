"""The player: proportions and club.

Segment lengths after Drillis and Contini, from memory; spreads and all of the hand, the foot and
the head are judgements.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from service.analysis.types import Club, Handedness
from tests.reference.stranger.golfer.faults import narrower

_FARTHEST: Final = 2.2
_LEFT_HANDED: Final = 0.2
"""Share of left-handers: more than among players, so that they count."""


@dataclass(frozen=True)
class ClubInHand:
    """A club: how often it is played, its length in metres, its lie in degrees, how far each foot
    then stands from the middle in statures, and by how many degrees the trunk is more upright than
    with a mid iron; common practice."""

    kind: Club
    share: float
    length: float
    lie: float
    stance: float
    upright: float


CLUBS: Final[tuple[ClubInHand, ...]] = (
    ClubInHand(Club.DRIVER, 0.3, 1.13, 47.0, 0.155, 3.0),
    ClubInHand(Club.HYBRID, 0.15, 1.00, 53.0, 0.135, 1.5),
    ClubInHand(Club.MID_IRON, 0.4, 0.93, 58.0, 0.12, 0.0),
    ClubInHand(Club.WEDGE, 0.15, 0.88, 61.0, 0.10, -1.5),
)


@dataclass(frozen=True)
class Player:
    """Lengths in statures but for ``stature`` and the club's in metres; angles in degrees.

    Attributes
    ----------
    shoulder, hip
        Half the distance between the two.
    stance
        Of each ankle from the middle.
    flares
        By which lead and trail foot point out.
    """

    stature: float
    handedness: Handedness
    club: ClubInHand
    thigh: float
    shank: float
    trunk: float
    upper_arm: float
    forearm: float
    shoulder: float
    hip: float
    stance: float
    flares: tuple[float, float]
    tilt: float
    lie: float
    arm_plane: float
    knee_bend: float
    nod: float

    @property
    def arm(self) -> float:
        """Length of a straight arm to the wrist."""
        return self.upper_arm + self.forearm

    @property
    def leg(self) -> float:
        """Length of a straight leg to the ankle."""
        return self.thigh + self.shank


def random_player(rng: np.random.Generator, faults: Mapping[str, float]) -> Player:
    """A player, standing as the faults let him."""

    def around(mean: float, spread: float) -> float:
        return mean + spread * float(np.clip(rng.standard_normal(), -_FARTHEST, _FARTHEST))

    club = CLUBS[int(rng.choice(len(CLUBS), p=[c.share for c in CLUBS]))]
    leg = around(0.495, 0.012)
    return Player(
        stature=around(1.74, 0.09),
        handedness=Handedness.LEFT if rng.random() < _LEFT_HANDED else Handedness.RIGHT,
        club=club,
        thigh=0.505 * leg,
        shank=0.495 * leg,
        trunk=around(0.288, 0.01),
        upper_arm=around(0.183, 0.006),
        forearm=around(0.148, 0.005),
        shoulder=around(0.110, 0.006),
        hip=around(0.056, 0.004),
        stance=club.stance * around(1.0, 0.1) - narrower(faults),
        flares=(around(22.0, 6.0), around(8.0, 5.0)),
        tilt=around(35.0, 4.0) - club.upright,
        lie=club.lie + around(0.0, 2.0),
        arm_plane=around(69.0, 4.0),
        knee_bend=around(22.0, 5.0),
        nod=around(42.0, 6.0),
    )
