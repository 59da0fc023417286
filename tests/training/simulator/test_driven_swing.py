from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from service.analysis.faults import CATALOGUE
from service.analysis.pose.points import Point, swap_sides
from service.analysis.types import Handedness, Intent, View
from training.data.draws import FAULTS, random_amounts, random_length
from training.data.truth import truth_of
from training.evaluation.sources.tallies import FAULT_NAMES
from training.simulator import FaultAmounts
from training.simulator.body.clubs import HAND_FROM_BUTT, HANDS_APART, SETUPS, club_length
from training.simulator.driven import (
    driven_swing,
    random_driven_swing,
    random_player,
    usual_player,
)
from training.simulator.driven.manner import Manner
from training.simulator.driven.player import RANGES
from training.simulator.driven.shorter import shortened

# Fault and the side from which its truth is told.
SIDES = {f: CATALOGUE[f].views[0] for f in FAULTS}
BONES = (
    ("upper_arm", Point.LEAD_SHOULDER, Point.LEAD_ELBOW),
    ("upper_arm", Point.TRAIL_SHOULDER, Point.TRAIL_ELBOW),
    ("forearm", Point.LEAD_ELBOW, Point.LEAD_WRIST),
    ("forearm", Point.TRAIL_ELBOW, Point.TRAIL_WRIST),
    ("hand", Point.LEAD_WRIST, Point.LEAD_HAND),
    ("hand", Point.TRAIL_WRIST, Point.TRAIL_HAND),
    ("thigh", Point.TRAIL_HIP, Point.TRAIL_KNEE),
    ("thigh", Point.LEAD_HIP, Point.LEAD_KNEE),
    ("shank", Point.LEAD_KNEE, Point.LEAD_ANKLE),
    ("shank", Point.TRAIL_KNEE, Point.TRAIL_ANKLE),
    ("hip_width", Point.LEAD_HIP, Point.TRAIL_HIP),
    ("spine", Point.MID_HIP, Point.NECK),
)


def any_swing(seed):
    """A swing of any player, faults, intent and length."""
    rng = np.random.default_rng([3, seed])
    player = random_player(rng)
    intent = Intent.REHEARSAL if seed % 4 == 0 else Intent.FULL_SPEED
    _, amounts = random_amounts(rng, intent)
    return random_driven_swing(rng, player, amounts, intent, random_length(rng))


@cache
def any_swings():
    return [any_swing(seed) for seed in range(12)]


@cache
def sound_swings():
    return [random_driven_swing(np.random.default_rng(seed)) for seed in range(10)]


def over_time(motion, rate=100.0):
    return motion.canonical_joints(np.arange(0.0, motion.duration, 1.0 / rate))


def swing_of_usual_player(**amounts):
    return driven_swing(usual_player(), FaultAmounts(**amounts))


def test_bones_keep_their_lengths_through_any_swing():
    for motion in any_swings():
        joints = over_time(motion)
        for name, a, b in BONES:
            lengths = np.linalg.norm(joints[:, a] - joints[:, b], axis=-1)
            np.testing.assert_allclose(
                lengths, motion.golfer[name] * motion.golfer.stature, rtol=5e-3, err_msg=name
            )


def test_both_hands_stay_on_one_handle():
    for motion in any_swings():
        joints = over_time(motion)
        shaft = joints[:, Point.CLUBHEAD] - joints[:, Point.GRIP_END]
        long = np.linalg.norm(shaft, axis=-1)
        np.testing.assert_allclose(long, club_length(motion.club, motion.golfer.stature))
        along = shaft / long[:, None]
        for hand, where in (
            (Point.LEAD_HAND, HAND_FROM_BUTT),
            (Point.TRAIL_HAND, HAND_FROM_BUTT + HANDS_APART),
        ):
            held = joints[:, Point.GRIP_END] + where * along
            np.testing.assert_allclose(joints[:, hand], held, atol=1e-9)


def test_the_clubhead_lies_on_the_ground_and_comes_back_there_at_impact():
    for motion in any_swings():
        moments = np.array([motion.swing_start, motion.position_times[6]])
        first, hit = motion.canonical_joints(moments)[:, Point.CLUBHEAD]
        assert 0.0 < first[1] < 0.04
        assert np.linalg.norm(first - hit) < 0.02


def test_feet_never_sink_and_the_lead_foot_stays_where_it_is():
    for motion in any_swings():
        joints = over_time(motion)
        assert joints[:, Point.LEAD_HEEL : Point.TRAIL_SMALL_TOE + 1, 1].min() > -1e-9
        assert np.ptp(joints[:, Point.LEAD_TOE], axis=0).max() < 1e-9
        assert np.ptp(joints[:, Point.TRAIL_TOE, [0, 2]], axis=0).max() < 0.06


def test_nothing_jumps():
    for motion in any_swings():
        body = over_time(motion, 240.0)[:, : Point.GRIP_END] / motion.golfer.stature
        assert np.linalg.norm(np.diff(body, 2, axis=0), axis=-1).max() < 0.02


def test_a_full_swing_reaches_all_positions_in_order():
    for motion in sound_swings():
        assert np.all(np.diff(motion.position_times) > 0.0)
        assert motion.position_times[0] >= motion.swing_start
        assert motion.position_times[9] < motion.duration


def test_any_swing_reaches_its_positions_in_order_or_not_at_all():
    for motion in any_swings():
        times = motion.position_times
        assert np.all(np.diff(times[np.isfinite(times)]) > 0.0)
        assert np.isfinite(times[[0, 3, 6, 9]]).all()


def test_it_is_at_rest_until_the_swing_starts():
    for motion in any_swings():
        before = motion.swing_start + np.array([-0.06, -0.03, 0.0])
        assert np.ptp(motion.canonical_joints(before), axis=0).max() < 1e-9


def test_the_top_is_left_when_a_pause_ends():
    for creeps in (0.0, 4.0):
        paused = driven_swing(usual_player(), manner=Manner(pause=0.2, creeps=creeps))
        clock = paused.plan.clock
        assert paused.position_times[3] == pytest.approx(clock.leaves, abs=0.03)
        assert clock.leaves - clock.top == pytest.approx(0.2)


def test_wrists_hold_the_club_until_late_and_open_before_the_ball():
    for motion in sound_swings():
        top, level, hit = motion.position_times[[3, 4, 6]]
        hinge = motion.plan.hinge.at(np.array([top, level, hit]))
        assert hinge[1] > 0.65 * hinge[0]
        assert hinge[2] < 0.35 * hinge[0]


@pytest.mark.parametrize("fault", FAULTS)
def test_more_of_a_fault_is_truer_of_it(fault):
    k = FAULT_NAMES.index(fault)
    margins = [
        truth_of(swing_of_usual_player(**{fault: amount}), SIDES[fault]).margin[k]
        for amount in (0.0, 0.6, 1.7)
    ]
    assert margins[0] < min(margins[1], -1.0)
    assert margins[2] > max(margins[1], 0.8)


def test_a_fault_put_on_any_player_is_mostly_there():
    there = []
    for seed, fault in enumerate(FAULTS):
        rng = np.random.default_rng(seed)
        motion = random_driven_swing(rng, None, FaultAmounts(**{fault: 1.7}))
        there.append(truth_of(motion, SIDES[fault]).margin[FAULT_NAMES.index(fault)] > 0.0)
    assert np.mean(there) > 0.85


@pytest.mark.parametrize("view", View)
def test_sound_players_are_mostly_without_faults(view):
    margins = np.array([truth_of(motion, view).margin for motion in sound_swings()])
    known = margins[np.isfinite(margins)]
    assert np.mean(known > 0.0) < 0.05
    assert np.mean(known > 1.0) < 0.02


def test_a_left_hander_is_the_mirror_image():
    right = driven_swing(usual_player())
    left = driven_swing(replace(usual_player(), handedness=Handedness.LEFT))
    times = np.linspace(0.0, right.duration, 20)
    mirrored = swap_sides(left.joints(times)) * np.array([-1.0, 1.0, 1.0])
    np.testing.assert_allclose(mirrored, right.joints(times))


def test_the_same_seed_makes_the_same_swing_and_another_makes_another():
    def made(seed):
        return random_driven_swing(np.random.default_rng(seed)).canonical_joints(np.array([1.0]))

    np.testing.assert_array_equal(made(4), made(4))
    assert np.abs(made(4) - made(5)).max() > 0.01


def test_rehearsals_are_slower():
    rng = np.random.default_rng(3)
    player = random_player(rng)
    slow = random_driven_swing(rng, player, intent=Intent.REHEARSAL).position_times
    fast = random_driven_swing(rng, player).position_times
    assert slow[6] - slow[3] > 1.8 * (fast[6] - fast[3])


def test_a_shorter_swing_goes_less_far_back_and_through_and_its_club_is_slower():
    high, far, fastest = [], [], []
    for length in (0.4, 0.6, 0.8, 1.0):
        motion = driven_swing(shortened(usual_player(), length))
        joints = motion.canonical_joints(np.arange(0.0, motion.duration, 0.005))
        top, finish = (int(motion.position_times[k] / 0.005) for k in (3, 9))
        arm = joints[:, Point.LEAD_WRIST] - joints[:, Point.LEAD_SHOULDER]
        high.append(arm[top, 1])
        far.append(joints[finish, Point.TRAIL_WRIST, 1])
        fastest.append(np.linalg.norm(np.diff(joints[:, Point.CLUBHEAD], axis=0), axis=-1).max())
    assert np.all(np.diff(high) > 0.0)
    assert np.all(np.diff(far) > 0.0)
    assert np.all(np.diff(fastest) > 0.0)


def test_a_full_swing_is_the_players_own():
    player = usual_player()
    assert shortened(player, 0.94) is player


def test_takeaways_are_led_by_arm_club_or_body():
    players = [random_player(np.random.default_rng(seed)) for seed in range(60)]
    parts = ("arm", "club", "chest")
    leaders = {min(parts, key=lambda part, p=p: p[f"{part}_lags"]) for p in players}
    assert leaders == set(parts)


def test_every_drawn_number_lies_in_its_range():
    player = random_player(np.random.default_rng(5))
    assert set(player.style) == set(RANGES)
    for name, (least, most, source) in RANGES.items():
        assert least <= player[name] <= most
        assert source


@pytest.mark.parametrize("club", SETUPS)
def test_every_club_meets_the_ball(club):
    motion = driven_swing(usual_player(club))
    first, hit = motion.canonical_joints(np.array([0.0, motion.position_times[6]]))[
        :, Point.CLUBHEAD
    ]
    assert np.linalg.norm(first - hit) < 0.02
