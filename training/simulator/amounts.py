"""How much of each fault a simulated swing shows."""

from __future__ import annotations

from dataclasses import astuple, dataclass


@dataclass(frozen=True)
class FaultAmounts:
    """Amount of each fault: 0 is a clean swing, 1 unmistakably marked, in between continuous.

    Attributes
    ----------
    arms_lift_at_top
        From P3 to P4 the hands go up instead of up and in, the chest having stopped.
    shaft_steep_at_top
        Seen down the line, the shaft starts down (P4 to P5) above the trail shoulder.
    trail_heel_kick
        The trail heel is high and spins out before impact (P5 to P7).
    elbows_separate
        After impact both arms bend and the elbows part (P7 to P9).
    lead_wrist_cup
        The clubhead overtakes stalling hands right after impact.
    trail_shoulder_drop
        The chest tilts too far to the trail side before impact (P6 to P7).
    handle_rise
        The hands come through impact higher than they were at address.
    trail_knee_drive
        The trail knee moves toward the ball from P5 to P6.
    upper_body_drift
        The upper body moves away from the target in the backswing.
    long_backswing
        The arms go past a controlled top.
    hurried_transition
        Too little time is taken back for the time taken down.
    chest_stall
        The chest stops turning at impact while the head stays down.
    trunk_straightens
        The trunk comes up out of its forward bend before impact (P5 to P7).
    hips_toward_ball
        The pelvis moves toward the ball coming down (P5 to P7).
    hips_past_lead_foot
        The pelvis slides toward the target, up to and past the lead foot (P5 to P7).
    wrists_open_early
        The wrists have thrown the club open by lead arm parallel coming down (P5).
    """

    arms_lift_at_top: float = 0.0
    shaft_steep_at_top: float = 0.0
    trail_heel_kick: float = 0.0
    elbows_separate: float = 0.0
    lead_wrist_cup: float = 0.0
    trail_shoulder_drop: float = 0.0
    handle_rise: float = 0.0
    trail_knee_drive: float = 0.0
    upper_body_drift: float = 0.0
    long_backswing: float = 0.0
    hurried_transition: float = 0.0
    chest_stall: float = 0.0
    trunk_straightens: float = 0.0
    hips_toward_ball: float = 0.0
    hips_past_lead_foot: float = 0.0
    wrists_open_early: float = 0.0

    def __post_init__(self) -> None:
        """Raise ``ValueError`` for an amount that is negative or not finite."""
        if not all(0.0 <= amount < float("inf") for amount in astuple(self)):
            raise ValueError(f"fault amounts must be finite and not negative, got {self}")
