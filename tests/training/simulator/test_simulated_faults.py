from __future__ import annotations

from dataclasses import fields
from functools import cache

import numpy as np
import pytest

from service.analysis.faults import CATALOGUE
from service.analysis.pose.points import Point
from service.analysis.types import Club
from tests.training.simulator import measures_3d as m3
from training.simulator import FaultAmounts, Golfer, random_golfer, random_swing, swing_motion

# Measure in space that the fault must raise, and by how much at least for an amount of 1
# (metres, degrees, or the ratio of the downswing's to the backswing's time).
EFFECTS = {
    "arms_lift_at_top": (m3.arm_lift_without_turn, 0.12),
    "shaft_steep_at_top": (m3.shaft_above_trail_shoulder, 0.12),
    "trail_heel_kick": (m3.trail_heel_height, 0.06),
    "elbows_separate": (m3.elbow_gap_growth, 0.12),
    "lead_wrist_cup": (m3.wrist_break, 20.0),
    "trail_shoulder_drop": (m3.tilt_before_impact, 12.0),
    "handle_rise": (m3.hand_rise, 0.05),
    "trail_knee_drive": (m3.trail_knee_advance, 0.05),
    "upper_body_drift": (m3.drift_from_target, 0.08),
    "long_backswing": (m3.arm_height_at_top, 20.0),
    "hurried_transition": (m3.haste, 0.2),
    "chest_stall": (m3.turn_left_undone, 35.0),
    "trunk_straightens": (m3.bend_lost, 9.0),
    "hips_toward_ball": (m3.pelvis_advance, 0.05),
    "hips_past_lead_foot": (m3.pelvis_slide, 0.08),
    "wrists_open_early": (m3.wrists_opened, 25.0),
}
GOLFERS = (
    Golfer(),
    Golfer(stature=1.88, club=Club.DRIVER),
    Golfer(stature=1.60, sex="female", club=Club.WEDGE),
)


@cache
def swings(amounts):
    """The same 25 golfers' swings with these amounts."""
    return [
        random_swing(
            np.random.default_rng(1000 + seed),
            random_golfer(np.random.default_rng(seed)),
            amounts,
        )
        for seed in range(25)
    ]


def test_every_fault_of_the_catalogue_can_be_simulated():
    assert set(CATALOGUE) == {field.name for field in fields(FaultAmounts)}


def test_every_fault_has_an_effect_to_be_tested():
    assert set(EFFECTS) == {field.name for field in fields(FaultAmounts)}


@pytest.mark.parametrize("golfer", GOLFERS, ids=lambda g: g.club.value)
@pytest.mark.parametrize("fault", EFFECTS)
def test_more_of_a_fault_shows_more_of_it_in_space(fault, golfer):
    measure, least = EFFECTS[fault]
    seen = [
        measure(swing_motion(golfer, FaultAmounts(**{fault: amount})))
        for amount in (0.0, 0.25, 0.5, 0.75, 1.0)
    ]
    assert np.all(np.diff(seen) > 0)
    assert seen[-1] - seen[0] >= least * golfer.stature / 1.88


@pytest.mark.parametrize("fault", EFFECTS)
def test_a_fault_at_its_full_amount_stands_out_of_the_spread_of_clean_swings(fault):
    measure, _ = EFFECTS[fault]
    clean = [measure(motion) for motion in swings(FaultAmounts())]
    faulty = [measure(motion) for motion in swings(FaultAmounts(**{fault: 1.0}))]
    assert np.percentile(faulty, 10) > np.percentile(clean, 90)


def test_faults_combine():
    both = FaultAmounts(upper_body_drift=1.0, chest_stall=1.0)
    motion, clean = swing_motion(Golfer(), both), swing_motion(Golfer())
    assert m3.drift_from_target(motion) > m3.drift_from_target(clean) + 0.08
    assert m3.turn_left_undone(motion) > m3.turn_left_undone(clean) + 30


@pytest.mark.parametrize("amount", [-0.1, float("nan"), float("inf")])
def test_an_impossible_amount_is_refused(amount):
    with pytest.raises(ValueError, match="not negative"):
        FaultAmounts(handle_rise=amount)


def test_separating_elbows_show_in_the_face_on_picture_too():
    def seen(amount):
        joints = m3.joints_at(swing_motion(Golfer(), FaultAmounts(elbows_separate=amount)), 1, 8)
        between = (joints[:, Point.LEAD_ELBOW] - joints[:, Point.TRAIL_ELBOW])[:, :2]
        return np.diff(np.linalg.norm(between, axis=-1))[0]

    growth = [seen(amount) for amount in (0.0, 0.3, 0.6, 0.9, 1.2)]
    assert np.all(np.diff(growth) > 0)
    assert growth[0] < 0 < growth[-1]
