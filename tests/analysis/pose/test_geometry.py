import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from service.analysis.pose.geometry import (
    direction,
    distance,
    elevation,
    flexion,
    frame_interval,
    height_above_line,
    joint_angle,
    midpoint,
    turn_between,
)
from service.analysis.pose.timeline import Timeline

coordinates = arrays(float, (3, 2), elements=st.floats(-100, 100, width=32))


@pytest.mark.parametrize("degrees", [0.0, 1e-6, 30.0, 90.0, 135.0, 179.999999, 180.0])
def test_a_joint_bent_by_a_known_angle_measures_that_angle(degrees):
    bent = np.radians(180.0 - degrees)
    proximal, joint = np.array([0.0, 2.0]), np.array([0.0, 0.0])
    distal = 3.0 * np.array([np.sin(bent), -np.cos(bent)])
    assert joint_angle(proximal, joint, distal) == pytest.approx(degrees, abs=1e-9)
    assert flexion(proximal, joint, distal) == pytest.approx(180.0 - degrees, abs=1e-9)


@pytest.mark.parametrize("degrees", [-179.0, -90.0, -1.0, 0.0, 45.0, 120.0, 180.0])
def test_a_direction_is_counted_anticlockwise_from_x(degrees):
    start = np.array([4.0, -2.0])
    end = start + 7.0 * np.array([np.cos(np.radians(degrees)), np.sin(np.radians(degrees))])
    assert direction(start, end) == pytest.approx(degrees, abs=1e-9)


@pytest.mark.parametrize("facing", [-1.0, 1.0])
def test_elevation_does_not_depend_on_which_way_a_segment_faces(facing):
    end = np.array([facing * np.cos(np.radians(35)), np.sin(np.radians(35))])
    assert elevation(np.zeros(2), end) == pytest.approx(35.0)


def test_a_point_left_of_a_line_lies_above_it():
    start, end = np.array([0.0, 0.0]), np.array([1.0, 1.0])
    assert height_above_line(np.array([0.0, 1.0]), start, end) == pytest.approx(np.sqrt(0.5))
    assert height_above_line(np.array([1.0, 0.0]), start, end) == pytest.approx(-np.sqrt(0.5))


def test_coincident_points_have_no_direction():
    here = np.array([1.0, 1.0])
    assert np.isnan(direction(here, here))
    assert np.isnan(elevation(here, here))
    assert np.isnan(height_above_line(np.zeros(2), here, here))


def test_missing_points_stay_missing():
    gone, here = np.array([np.nan, 0.0]), np.array([1.0, 2.0])
    assert np.isnan(joint_angle(gone, here, np.zeros(2)))
    assert np.isnan(distance(gone, here))
    assert np.isnan(midpoint(gone, here)).any()


@given(coordinates, st.floats(0.1, 10.0), st.floats(-180.0, 180.0))
def test_joint_angles_do_not_change_under_similarity(points, scale, turn):
    assume(min(distance(points[0], points[1]), distance(points[2], points[1])) >= 1e-3)
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    moved = scale * points @ np.array([[c, s], [-s, c]]) + np.array([5.0, -3.0])
    assert joint_angle(*moved) == pytest.approx(joint_angle(*points), abs=1e-6)


@given(coordinates)
def test_turning_there_and_back_ends_where_it_began(points):
    u, v = points[0], points[1]
    turn = turn_between(u, v)
    assume(np.isfinite(turn) and abs(turn) <= 179.999)
    assert turn_between(v, u) == pytest.approx(-turn)


@given(st.integers(0, 1000), st.integers(2, 30))
def test_velocities_are_those_of_the_library_whatever_the_spacing(seed, n_frames):
    rng = np.random.default_rng(seed)
    times = np.cumsum(rng.uniform(0.005, 0.05, n_frames))
    path = rng.normal(size=(n_frames, 2))
    expected = np.gradient(path, times, axis=0)
    np.testing.assert_allclose(
        Timeline.of([times]).velocity(path.T).T, expected, rtol=1e-9, atol=1e-9
    )


@given(st.integers(0, 1000), st.integers(2, 30))
def test_the_usual_time_between_frames_is_their_median(seed, n_frames):
    times = np.cumsum(np.random.default_rng(seed).uniform(0.005, 0.05, n_frames))
    assert frame_interval(times) == np.median(np.diff(times))
