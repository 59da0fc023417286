"""The player: body, club, side and the personal style of a sound swing."""

from __future__ import annotations

from dataclasses import dataclass, field

from service.analysis.types import Club, Handedness
from training.simulator.body.clubs import SETUPS, Setup, club_length
from training.simulator.body.segments import Body, Sex, body_of

__all__ = ["Golfer", "Sex", "Style"]


@dataclass(frozen=True)
class Style:
    """What differs between players who all swing soundly.

    Angles in degrees, lengths in metres unless said otherwise. Turns are taken from
    square, positive toward the target; ``*_turn_top`` are the sizes of the turn away.
    ``lead_arm_reach`` is what share of its length the lead arm is to span from P3 to P5; above
    0.99 it is as straight as it gets. ``arm_heading_down`` is where the plane of the arms points
    at P5, and ``trail_elbow_out`` how much further than usual the trail elbow stands off the trunk
    there. ``*_knee_top`` is added to the flex of a knee on the way to the top. ``stance``,
    ``bend``, ``hang`` and ``ball`` are departures from what the club asks.
    """

    stance: float = 0.0
    bend: float = 0.0
    hang: float = 0.0
    ball: float = 0.0
    knee_flex: float = 9.0
    lead_knee_top: float = 21.0
    trail_knee_top: float = 1.0
    side_tilt: float = 5.0
    lead_foot_flare: float = 18.0
    trail_foot_flare: float = 8.0
    pelvis_turn_top: float = 45.0
    chest_turn_top: float = 90.0
    pelvis_open_impact: float = 40.0
    chest_open_impact: float = 26.0
    side_tilt_impact: float = 17.5
    shift_impact: float = 0.09
    hands_ahead_impact: float = 0.07
    hands_rise_impact: float = 0.02
    arm_swing_top: float = 143.0
    wrist_set_top: float = 102.0
    lead_arm_reach: float = 1.03
    arm_plane_top: float = 56.0
    shaft_plane: float = 0.0
    head_turn_top: float = 14.0
    arm_heading_down: float = 3.0
    trail_elbow_out: float = 0.0
    finish: float = 1.0
    bend_finish: float = 12.0


@dataclass(frozen=True)
class Golfer:
    """A player with a club in the hands.

    ``stature`` in metres. Raises ``ValueError`` for one outside 0.9 to 2.3.
    """

    stature: float = 1.78
    sex: Sex | str = Sex.MALE
    club: Club = Club.MID_IRON
    handedness: Handedness = Handedness.RIGHT
    style: Style = field(default_factory=Style)

    def __post_init__(self) -> None:
        if not 0.9 <= self.stature <= 2.3:
            raise ValueError(f"stature must be within 0.9 to 2.3 m, got {self.stature}")

    @property
    def body(self) -> Body:
        """Segment lengths."""
        return body_of(self.stature, Sex(self.sex))

    @property
    def setup(self) -> Setup:
        """What the club asks for at address."""
        return SETUPS[self.club]

    @property
    def club_length(self) -> float:
        """Length of the club in metres."""
        return club_length(self.club, self.stature)
