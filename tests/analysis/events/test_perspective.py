from dataclasses import replace

import numpy as np
import pytest

from service.analysis.events.normalized import N_DRAWS, unit_draws
from service.analysis.events.perspective import undo_perspective
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
