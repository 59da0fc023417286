import numpy as np
import pytest

from service.analysis.faults import CATALOGUE
from service.analysis.pose.points import Point, swap_sides
from service.analysis.types import Handedness, Intent, View
from training.data.dataset import FAULT_NAMES
from training.data.draws import FAULTS
from training.data.truth import truth_of
from training.simulator import FaultAmounts
from training.simulator.keyed import keyed_swing, random_keyed_swing, random_player
from training.simulator.keyed.player import RANGES, usual_player
from training.simulator.keyed.shorter import shortened

# Fault and the side from which its truth is told.
SIDES = {f: CATALOGUE[f].views[0] for f in FAULTS}
BONES = (
    ("upper_arm", Point.LEAD_SHOULDER, Point.LEAD_ELBOW),
    ("forearm", Point.TRAIL_ELBOW, Point.TRAIL_WRIST),
    ("thigh", Point.TRAIL_HIP, Point.TRAIL_KNEE),
    ("shank", Point.LEAD_KNEE, Point.LEAD_ANKLE),
    ("hip_width", Point.LEAD_HIP, Point.TRAIL_HIP),
)


def swings(count: int):
    for seed in range(count):
        yield random_keyed_swing(np.random.default_rng(seed))


def test_bones_keep_their_lengths_through_the_swing():
    for motion in swings(8):
        joints = motion.canonical_joints(np.linspace(0.0, motion.duration, 200))
        for name, a, b in BONES:
            lengths = np.linalg.norm(joints[:, a] - joints[:, b], axis=-1)
            np.testing.assert_allclose(
                lengths, motion.golfer[name] * motion.golfer.stature, rtol=2e-2
            )


def test_positions_come_in_order_and_near_the_keys():
    for motion in swings(12):
        assert np.all(np.diff(motion.position_times) > 0.0)
        joints = motion.canonical_joints(motion.position_times)
        shaft = joints[:, Point.CLUBHEAD] - joints[:, Point.GRIP_END]
        assert np.all(np.abs(shaft[[1, 5, 7], 1]) < 0.02)


def test_the_club_is_on_the_ball_at_address_and_back_there_at_impact():
    motion = keyed_swing(usual_player())
    head = motion.canonical_joints(motion.position_times[[0, 6]])[:, Point.CLUBHEAD]
    assert np.linalg.norm(head[0] - head[1]) < 0.06


def test_hands_stay_on_the_grip():
    for motion in swings(6):
        joints = motion.canonical_joints(np.linspace(0.0, motion.duration, 150))
        apart = np.linalg.norm(joints[:, Point.LEAD_HAND] - joints[:, Point.TRAIL_HAND], axis=-1)
        assert np.ptp(apart) < 1e-6


@pytest.mark.parametrize("fault", FAULTS)
def test_more_of_a_fault_is_truer_of_it(fault):
    k = FAULT_NAMES.index(fault)
    margins = [
        truth_of(keyed_swing(usual_player(), FaultAmounts(**{fault: amount})), SIDES[fault]).margin[
            k
        ]
        for amount in (0.0, 0.6, 1.7)
    ]
    assert margins[0] < min(margins[1], 0.0)
    assert margins[2] > max(margins[1], 1.0)


def test_sound_players_are_mostly_without_faults():
    margins = np.array([truth_of(motion, View.FACE_ON).margin for motion in swings(15)])
    assert np.mean(margins[np.isfinite(margins)] > 0.0) < 0.05


def test_a_left_hander_is_the_mirror_image():
    right = keyed_swing(usual_player())
    player = usual_player()
    left = keyed_swing(type(player)(player.stature, player.club, Handedness.LEFT, player.style))
    times = np.linspace(0.0, right.duration, 20)
    mirrored = swap_sides(left.joints(times)) * np.array([-1.0, 1.0, 1.0])
    np.testing.assert_allclose(mirrored, right.joints(times))


def test_rehearsals_are_slower():
    rng = np.random.default_rng(3)
    player = random_player(rng)
    slow = random_keyed_swing(rng, player, intent=Intent.REHEARSAL).position_times
    fast = random_keyed_swing(rng, player).position_times
    assert slow[6] - slow[3] > 1.8 * (fast[6] - fast[3])


def test_a_shorter_swing_goes_less_far_back_and_through_and_its_club_is_slower():
    player = usual_player()
    high, turned, fastest = [], [], []
    for length in (0.4, 0.6, 0.8, 1.0):
        motion = keyed_swing(shortened(player, length))
        joints = motion.canonical_joints(np.arange(0.0, motion.duration, 0.005))
        arm = joints[:, Point.LEAD_WRIST] - joints[:, Point.LEAD_SHOULDER]
        top, finish = (int(motion.position_times[k] / 0.005) for k in (3, 9))
        shoulders = joints[:, Point.LEAD_SHOULDER] - joints[:, Point.TRAIL_SHOULDER]
        high.append(arm[top, 1])
        turned.append(
            np.degrees(np.arctan2(shoulders[[top, finish], 2], shoulders[[top, finish], 0]))
        )
        fastest.append(np.linalg.norm(np.diff(joints[:, Point.CLUBHEAD], axis=0), axis=-1).max())
    assert np.all(np.diff(high) > 0.0)
    assert np.all(np.diff(np.abs(turned), axis=0) > 0.0)
    assert np.all(np.diff(fastest) > 0.0)


def test_a_full_swing_is_the_players_own():
    player = usual_player()
    assert shortened(player, 0.94) is player


def test_every_drawn_number_lies_in_its_range():
    player = random_player(np.random.default_rng(5))
    assert set(player.style) == set(RANGES)
    for name, (_, _, least, most, source) in RANGES.items():
        assert least <= player[name] <= most
        assert source
