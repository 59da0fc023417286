"""The stranger's golfer is a body that plays golf, its truth is what the words say, and the service
does on it what it says of itself."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from service.analysis.analyse import analyse
from service.analysis.faults import CATALOGUE
from service.analysis.judging.classifier import Classifier
from service.analysis.measures.definition import MeasuredValue
from service.analysis.pose.points import Point
from service.analysis.types import View
from service.settings import Settings
from tests.reference.stranger.clips import stranger
from tests.reference.stranger.golfer import CHANGES, Swing, random_swing
from tests.reference.stranger.golfer.arms import BETWEEN
from tests.reference.stranger.truth import truth_of
from training.data.truth import margins, true_measures
from training.evaluation.sources import rows_of
from training.simulator.true_positions import position_times

PLAYERS = range(3)
CLEARLY = 1.3
# Measures that come to the same in space and in the picture, and how far apart both codes may be.
ALIKE = {
    "tempo_ratio": 1e-6,
    "hand_height_at_impact": 0.1,
    "trail_heel_height": 0.1,
    "trail_heel_outward": 0.1,
    "trunk_lean_p1": 0.1,
    "trunk_lean_p7": 0.5,
    "lead_elbow_flexion_p7": 1.0,
    "trail_elbow_flexion_p7": 1.0,
    "elbow_gap_growth": 0.3,
    "pelvis_travel_to_target": 0.1,
    "pelvis_travel_to_ball": 0.3,
    "trail_knee_travel": 0.1,
    "upper_body_drift": 0.1,
    "lead_arm_swing": 0.5,
    "clubhead_ahead_of_hands": 1.5,
    "hand_path_steepness": 1.0,
    "shaft_offset_from_trail_shoulder": 0.03,
    "hips_behind_lead_ankle": 0.1,
    "chest_turn_gained": 1.0,
}


@cache
def swing(player: int, fault: str = "", amount: float = CLEARLY) -> Swing:
    return random_swing(np.random.default_rng(player), {fault: amount} if fault else {}, False)


def distances(played: Swing, start: Point, end: Point) -> np.ndarray:
    return np.linalg.norm(played.space[:, start] - played.space[:, end], axis=-1)


@pytest.mark.parametrize("fault", ["", *CHANGES])
def test_limbs_keep_their_length_whatever_is_put_on(fault):
    played = swing(0, fault)
    player = played.golfer
    for side in (0, 1):
        chain = {
            (Point.LEAD_SHOULDER, Point.LEAD_ELBOW): player.upper_arm,
            (Point.LEAD_ELBOW, Point.LEAD_WRIST): player.forearm,
            (Point.LEAD_HIP, Point.LEAD_KNEE): player.thigh,
            (Point.LEAD_KNEE, Point.LEAD_ANKLE): player.shank,
        }
        for (start, end), length in chain.items():
            lengths = distances(played, Point(start + side), Point(end + side))
            np.testing.assert_allclose(lengths, length, rtol=1e-3)


@pytest.mark.parametrize("player", PLAYERS)
def test_both_hands_hold_one_handle_of_a_club_that_does_not_bend(player):
    played = swing(player)
    np.testing.assert_allclose(distances(played, Point.LEAD_WRIST, Point.TRAIL_WRIST), BETWEEN)
    assert np.ptp(distances(played, Point.GRIP_END, Point.CLUBHEAD)) < 1e-9


@pytest.mark.parametrize("fault", ["", "trail_heel_kick", "trail_knee_drive"])
def test_feet_stay_where_their_toes_are_and_above_the_ground(fault):
    played = swing(1, fault)
    feet = [Point.LEAD_TOE, Point.TRAIL_TOE]
    assert np.ptp(played.space[:, feet], axis=0).max() < 1e-9
    assert played.space[:, Point.LEAD_HIP : Point.TRAIL_TOE + 1, 1].min() > 0.0


@pytest.mark.parametrize("player", PLAYERS)
def test_the_clubhead_comes_back_to_the_ground(player):
    played = swing(player)
    times = np.array([played.swing_start - 0.1, played.position_times[6]])
    address, impact = played.canonical_joints(times)[:, Point.CLUBHEAD]
    assert abs(impact[1] - address[1]) < 0.03
    assert abs(impact[0] - address[0]) < 0.001


@pytest.mark.parametrize("fault", CATALOGUE)
def test_a_fault_put_on_is_there_by_the_words_and_is_not_without(fault):
    place = list(CATALOGUE).index(fault)
    for view in CATALOGUE[fault].criteria:
        without, put_on = (
            np.median([margins(truth_of(s, view), view)[place] for s in swings])
            for swings in (
                [swing(player) for player in PLAYERS],
                [swing(player, fault) for player in PLAYERS],
            )
        )
        assert without < 0.0 < put_on


def test_its_own_positions_are_those_of_the_same_words_read_by_others():
    played = swing(2)
    read = position_times(
        played.canonical_joints, 0.0, played.duration - 0.01, played.golfer.stature
    )
    np.testing.assert_allclose(played.position_times, read, atol=0.02)


@pytest.mark.parametrize("view", View)
def test_its_own_truth_is_what_the_measures_find_where_space_and_picture_are_the_same(view):
    played = swing(0)
    told = truth_of(played, view)
    measured = true_measures(played, view).values
    both = ALIKE.keys() & told.keys()
    assert both
    for name in both:
        found = measured[name]
        assert isinstance(found, MeasuredValue)
        assert told[name] == pytest.approx(found.value, abs=ALIKE[name]), name


def test_one_seed_makes_one_clip():
    first, again, other = (next(stranger(seed, 0)) for seed in (5, 5, 6))
    np.testing.assert_array_equal(first.recording.points, again.recording.points)
    assert first.truth == again.truth
    assert first.truth != other.truth


@pytest.mark.parametrize("models", [False, True])
def test_every_clip_of_a_dozen_is_found_and_nothing_goes_against_its_evidence(models):
    classifier = Classifier.load(Settings().model_dir) if models else None
    rows = list(rows_of(stranger, 12, 1, lambda recording: analyse(recording, classifier)))
    assert all(row.found for row in rows)
    told = [verdict for row in rows for verdict in row.verdicts]
    assert sum(v.decided for v in told) > 40
    assert not any(v.against for v in told)
