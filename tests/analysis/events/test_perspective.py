from dataclasses import replace

import numpy as np
import pytest

from service.analysis.events.normalized import GRID, N_DRAWS, unit_draws
from service.analysis.events.perspective import STAYS, hold_still, undo_perspective
from service.analysis.measured import MeasuredSwing, measure_swing
from service.analysis.pose.points import Point
from service.analysis.types import View
from training.data.truth import true_measures
from training.simulator import Camera, film
from training.simulator.keyed import keyed_swing
from training.simulator.keyed.player import usual_player

STANDS = {View.FACE_ON: Camera.face_on, View.DOWN_THE_LINE: Camera.down_the_line}
# What a camera that stands close distorts most, from each side.
DISTORTED = {View.FACE_ON: "lead_arm_elevation_p4", View.DOWN_THE_LINE: "hand_path_steepness"}


def measured(view: View, distance: float) -> MeasuredSwing:
    found = measure_swing(film(keyed_swing(usual_player()), STANDS[view](distance), tell=True))
    assert isinstance(found, MeasuredSwing)
    return found


def bare(swing: MeasuredSwing):
    """The swing as it lies in the picture: what undoing perspective started from is what is
    left of it when neither feet nor hips are seen."""
    lost = swing.normalized.poses.copy()
    lost[[Point.LEAD_ANKLE, Point.TRAIL_ANKLE, Point.LEAD_HIP, Point.TRAIL_HIP]] = np.nan
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


def test_missing_points_stay_missing_and_no_other_is_lost():
    swing = measured(View.FACE_ON, 4.5).normalized
    again = undo_perspective(swing)
    np.testing.assert_array_equal(np.isnan(again.poses), np.isnan(swing.poses))


def test_draws_come_with_their_opposites():
    draws = unit_draws(5, 7, 3)
    assert draws.shape == (N_DRAWS, 7, 3)
    np.testing.assert_allclose(draws.sum(axis=0), 0.0, atol=1e-12)


def test_few_numbers_are_drawn_with_exactly_unit_spread_and_apart():
    draws = unit_draws(5, 10)
    np.testing.assert_allclose(draws.T @ draws / N_DRAWS, np.eye(10), atol=1e-12)


def panned(foot_error: float) -> tuple[np.ndarray, np.ndarray]:
    """Best poses of a swing by a steady camera and by one that goes 0.05 aside until P5, both held
    still; ``foot_error`` is how far the drawn samples of the lead foot lie apart."""
    swing = measured(View.DOWN_THE_LINE, 4.5).normalized
    foot = list(STAYS)
    swing.poses[foot] = swing.poses[foot, :1]
    swing.poses[foot, 1:, 1:] += foot_error * unit_draws(5, 2)[:, None]
    aside = np.minimum((GRID - 1.0) / 4.0, 1.0)[:, None] * [0.05, 0.0]
    moving = replace(swing, poses=swing.poses + aside, lines={})
    steady, followed = hold_still(swing), hold_still(moving)
    return steady.poses[:, 0], followed.poses[:, 0]


def test_a_camera_is_followed_wholly_where_the_foot_is_known_without_error():
    steady, followed = panned(foot_error=0.0)
    np.testing.assert_allclose(followed, steady, atol=1e-9)


def test_a_foot_that_is_badly_known_says_little_of_the_camera():
    steady, followed = panned(foot_error=0.02)
    left = (followed - steady)[Point.LEAD_HIP, -1, 0]
    assert 0.045 < left < 0.05


def test_what_is_not_known_of_a_camera_that_may_move_is_in_the_draws():
    swing = measured(View.DOWN_THE_LINE, 4.5).normalized
    swing.poses[:] = np.where(np.isnan(swing.poses[:, :1]), np.nan, 0.5)
    swing.poses[list(STAYS), 1:, 1:] += 0.02 * unit_draws(5, 2)[:, None]
    hip = hold_still(swing).point(Point.LEAD_HIP)[1:]
    assert hip[:, 0].std() == 0.0
    np.testing.assert_allclose(hip[:, -1].std(axis=0), 0.004, rtol=0.1)
