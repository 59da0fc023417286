"""Clubs: how long they are and how the player sets up to them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from service.analysis.types import Club

LONGEST_CLUB: Final[float] = 1.2192
"""48 inches, the limit of the Rules of Golf (equipment rules, clubs other than putters)."""

HAND_FROM_BUTT: Final[float] = 0.07
"""Distance of the lead hand from the butt of the club, metres; common practice."""

HANDS_APART: Final[float] = 0.075
"""Distance between the two hands along the grip, metres; common practice."""

USUAL_STATURE: Final[float] = 1.77
"""Metres; the height of the player whom the lengths below are for."""


@dataclass(frozen=True)
class Setup:
    """How a club is set up to at address.

    ``length`` in metres for a player of usual height; ``ball`` is how far the ball
    lies toward the target from the middle of the stance and ``stance`` the distance
    between the ankles, both in statures; ``bend`` is the forward bend of the trunk and
    ``hang`` how far the arms hang out from the vertical, degrees; ``lean`` is how far
    the hands are ahead of the ball, metres. At impact they lead by ``extra_lead`` metres
    more than a style says.
    """

    length: float
    ball: float
    stance: float
    bend: float
    hang: float
    lean: float

    @property
    def extra_lead(self) -> float:
        """A ball played forward is met with the hands less far ahead."""
        return 0.4 * self.lean


# Common practice.
SETUPS: Final[dict[Club, Setup]] = {
    Club.DRIVER: Setup(1.14, 0.075, 0.315, 16.0, 27.0, -0.055),
    Club.FAIRWAY_WOOD: Setup(1.08, 0.065, 0.29, 20.0, 24.0, -0.035),
    Club.HYBRID: Setup(1.01, 0.045, 0.275, 26.0, 21.0, -0.015),
    Club.LONG_IRON: Setup(0.98, 0.035, 0.265, 31.0, 19.0, 0.005),
    Club.MID_IRON: Setup(0.94, 0.02, 0.25, 33.0, 18.0, 0.01),
    Club.SHORT_IRON: Setup(0.91, 0.01, 0.235, 35.0, 17.0, 0.015),
    Club.WEDGE: Setup(0.89, 0.005, 0.215, 36.0, 16.0, 0.02),
}


def club_length(club: Club, stature: float) -> float:
    """Length in metres of a club fitted to a player; short players play shorter clubs."""
    fitted: float = SETUPS[club].length * (stature / USUAL_STATURE) ** 0.7
    return min(fitted, LONGEST_CLUB)
