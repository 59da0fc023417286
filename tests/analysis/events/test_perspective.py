from dataclasses import replace

import numpy as np
import pytest

from service.analysis.events.normalized import (
    GRID,
    N_DRAWS,
    NormalizedSwing,
    grid_index,
    unit_draws,
)
from service.analysis.events.perspective import STAYS, hold_still, undo_perspective
from service.analysis.measured import MeasuredSwing, measure_swing
from service.analysis.pose.points import Point
from service.analysis.types import View
from tests.analysis.measures.posing import end_to_end
from training.data.truth import true_measures
from training.simulator import Camera, film
from training.simulator.keyed import keyed_swing
from training.simulator.keyed.player import usual_player

ANKLES_AND_HIPS = (Point.LEAD_ANKLE, Point.TRAIL_ANKLE, Point.LEAD_HIP, Point.TRAIL_HIP)
# What a camera that stands close distorts most, from each side.
DISTORTED = {View.FACE_ON: "lead_arm_elevation_p4", View.DOWN_THE_LINE: "hand_path_steepness"}


def measured(view: View, distance: float) -> MeasuredSwing:
    camera = Camera.standing(view, distance)
    found = measure_swing(film(keyed_swing(usual_player()), camera, tell=True))
    assert isinstance(found, MeasuredSwing)
    return found


def bare(swing: MeasuredSwing):
    """The swing as it lies in the picture: what undoing perspective started from is what is
    left of it when neither feet nor hips are seen."""
    lost = swing.normalized.poses.copy()
    lost[:, ANKLES_AND_HIPS] = np.nan
    return replace(swing.normalized, poses=lost)


@pytest.mark.parametrize("view", View)
@pytest.mark.parametrize("distance", [3.5, 6.0])
def test_a_camera_at_any_usual_distance_measures_within_a_few_degrees_of_the_truth(view, distance):
    name = DISTORTED[view]
    truth = true_measures(keyed_swing(usual_player()), view).values[name].value
    assert measured(view, distance).values[name].value == pytest.approx(truth, abs=3.0)


@pytest.mark.parametrize("view", View)
def test_what_is_not_known_of_the_camera_is_in_the_uncertainty(view):
    name = DISTORTED[view]
    near, far = (measured(view, d).values[name] for d in (3.0, 6.0))
    assert abs(near.value - far.value) < 2.0 * np.hypot(near.uncertainty, far.uncertainty)


def test_without_feet_and_hips_nothing_is_changed():
    swing = bare(measured(View.FACE_ON, 4.5))
    assert undo_perspective(swing) is swing


@pytest.mark.parametrize("view", View)
def test_swings_laid_end_to_end_are_undone_and_held_still_as_each_alone(view):
    swings = [measured(view, distance).normalized for distance in (3.5, 4.5, 6.0)]
    shown = swings[1].poses.copy()
    swings[1].poses[:, [*ANKLES_AND_HIPS, *STAYS]] = np.nan
    swings[1] = replace(swings[1], missing=np.isnan(swings[1].poses[..., 0]))
    swings[2].poses[:, STAYS[0], 0] = np.nan  # of the lead foot its ankle is lost at address
    swings[2] = replace(swings[2], missing=np.isnan(swings[2].poses[..., 0]))
    together = hold_still(undo_perspective(end_to_end(swings)))
    for k, swing in enumerate(swings):
        alone = hold_still(undo_perspective(swing))
        np.testing.assert_array_equal(together.one(k).poses, alone.poses)
        np.testing.assert_array_equal(together.one(k).samples, alone.samples)
    np.testing.assert_array_equal(together.poses[1, Point.NOSE], shown[0, Point.NOSE])


def test_missing_points_stay_missing_and_no_other_is_lost():
    swing = measured(View.FACE_ON, 4.5).normalized
    again = undo_perspective(swing)
    np.testing.assert_array_equal(np.isnan(again.poses[..., 0]), swing.missing)
    assert np.isfinite(again.samples).all()


def test_the_first_sample_stays_the_best_estimate():
    swing = measured(View.FACE_ON, 4.5).normalized
    best = swing.poses[0, swing.columns.points, swing.columns.places]
    np.testing.assert_allclose(swing.samples[..., 0], best, atol=1e-12)


def test_draws_come_with_their_opposites():
    draws = unit_draws(5, 7, 3)
    assert draws.shape == (N_DRAWS, 7, 3)
    np.testing.assert_allclose(draws.sum(axis=0), 0.0, atol=1e-12)


def test_few_numbers_are_drawn_with_exactly_unit_spread_and_apart():
    draws = unit_draws(5, 10)
    np.testing.assert_allclose(draws.T @ draws / N_DRAWS, np.eye(10), atol=1e-12)


def know_foot(swing: NormalizedSwing, error: float) -> np.ndarray:
    """The drawn samples, in which the lead foot's points now lie apart by ``error`` after P1."""
    samples = swing.samples
    foot = np.isin(swing.columns.points, STAYS)
    samples[foot] = samples[foot][..., :1]
    samples[foot & (swing.columns.places > 0), :, 1:] += error * unit_draws(5, 2).T
    return samples


def panned(foot_error: float, way: float = 0.02) -> tuple[np.ndarray, np.ndarray]:
    """Best poses of a swing by a steady camera and by one that goes ``way`` aside until P5, both
    held still; ``foot_error`` is how far the drawn samples of the lead foot lie apart."""
    swing = measured(View.DOWN_THE_LINE, 4.5).normalized
    samples, places = know_foot(swing, foot_error), swing.columns.places
    aside = np.minimum((GRID - 1.0) / 4.0, 1.0)[:, None] * [way, 0.0]
    moved = samples + aside[places][..., None]
    moving = replace(swing, poses=swing.poses + aside, samples=moved, lines={})
    steady, followed = hold_still(swing), hold_still(moving)
    return steady.poses, followed.poses


def test_a_camera_is_followed_wholly_where_the_foot_is_known_without_error():
    steady, followed = panned(foot_error=0.0)
    np.testing.assert_allclose(followed, steady, atol=1e-9)


def test_a_foot_that_is_badly_known_says_little_of_the_camera():
    steady, followed = panned(foot_error=0.02)
    left = (followed - steady)[0, Point.LEAD_HIP, -1, 0]
    assert 0.018 < left < 0.02


def test_a_film_that_follows_the_player_is_held_still_where_both_feet_go_with_it():
    steady, followed = panned(foot_error=0.01, way=0.08)
    left = (followed - steady)[0, Point.LEAD_HIP, -1, 0]
    assert abs(left) < 0.008


def test_a_foot_that_goes_alone_is_no_moving_camera():
    swing = measured(View.DOWN_THE_LINE, 4.5).normalized
    samples = know_foot(swing, 0.01)
    stepped = replace(swing, poses=swing.poses.copy(), samples=samples.copy(), lines={})
    stepped.poses[:, list(STAYS), 1:, 0] += 0.08
    foot = np.isin(swing.columns.points, STAYS) & (swing.columns.places > 0)
    stepped.samples[foot, 0] += 0.08
    left = (hold_still(stepped).poses - hold_still(swing).poses)[0, Point.LEAD_HIP, -1, 0]
    assert abs(left) < 0.02


def test_what_is_not_known_of_a_camera_that_may_move_is_in_the_draws():
    swing = measured(View.DOWN_THE_LINE, 4.5).normalized
    places = swing.columns.places
    swing.samples[:] = 0.5
    foot = np.isin(swing.columns.points, STAYS) & (places > 0)
    swing.samples[foot, :, 1:] += 0.02 * unit_draws(5, 2).T
    hip = hold_still(swing).at((grid_index(1.0), grid_index(7.0))).point(Point.LEAD_HIP)[1:]
    assert hip[:, 0].std() == 0.0
    np.testing.assert_allclose(hip[:, -1].std(axis=0), 0.004, rtol=0.1)
