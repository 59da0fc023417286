"""When frames were, and what is said of times that can't be."""

from __future__ import annotations

import numpy as np
import pytest

from service.analysis.types import FloatArray
from service.intake.errors import FieldError, InvalidRequest, complaining
from service.intake.frame_times import MAX_FPS, MIN_FPS, MIN_STEP, frame_times

N_FRAMES = 4
EVEN = [0.5, 0.52, 0.54, 0.56]


def told(fps: float | None, timestamps: object, playback_speed: float = 1.0) -> FloatArray:
    with complaining() as complaints:
        times = frame_times(N_FRAMES, fps, timestamps, playback_speed, complaints)
    assert times is not None
    return times


def refused(fps: float | None, timestamps: object) -> tuple[FieldError, ...]:
    with pytest.raises(InvalidRequest) as error, complaining() as complaints:
        assert frame_times(N_FRAMES, fps, timestamps, 1.0, complaints) is None
    return error.value.errors


def test_frames_of_a_rate_are_evenly_apart_and_slow_motion_is_faster_in_life() -> None:
    assert told(50.0, None) == pytest.approx([0.0, 0.02, 0.04, 0.06])
    assert told(50.0, None, playback_speed=0.25) == pytest.approx([0.0, 0.005, 0.01, 0.015])


def test_timestamps_count_from_the_first_frame_in_the_player_s_time() -> None:
    assert told(None, EVEN) == pytest.approx([0.0, 0.02, 0.04, 0.06])
    assert told(None, EVEN, playback_speed=0.5) == pytest.approx([0.0, 0.01, 0.02, 0.03])


def test_exactly_one_of_rate_and_timestamps_is_wanted() -> None:
    (neither,) = refused(None, None)
    assert (neither.pointer, "missing" in neither.problem) == ("/fps", True)
    (both,) = refused(50.0, EVEN)
    assert (both.pointer, "beside fps" in both.problem) == ("/timestamps", True)
    assert neither.fix
    assert both.fix


@pytest.mark.parametrize(
    ("timestamps", "told_of_it"),
    [
        (EVEN[:3], "is a list of 3, not a list of 4 numbers"),
        ([*EVEN, 0.58], "is a list of 5, not a list of 4 numbers"),
        ("0123", "is a string, not a list of 4 numbers"),
        ({"0": 1, "1": 2, "2": 3, "3": 4}, "not a list of 4 numbers"),
    ],
)
def test_there_is_one_time_a_frame(timestamps: object, told_of_it: str) -> None:
    (error,) = refused(None, timestamps)
    assert error.pointer == "/timestamps"
    assert told_of_it in error.problem
    assert error.fix


@pytest.mark.parametrize("value", [True, "0.52", None, float("nan"), float("inf"), 10**400])
def test_a_time_is_a_finite_number(value: object) -> None:
    (error,) = refused(None, [EVEN[0], value, *EVEN[2:]])
    assert error.pointer == "/timestamps/1"
    assert error.problem == "is not a finite number"


def test_whole_numbers_are_times_too() -> None:
    assert told(None, [0, 0.02, 0.04, 0.06]) == pytest.approx([0.0, 0.02, 0.04, 0.06])


@pytest.mark.parametrize(
    ("second", "told_of_it"),
    [
        (0.5, "is not later than the timestamp before it"),
        (0.4, "is not later than the timestamp before it"),
        (0.5 + 0.9 * MIN_STEP, "is less than 0.1 ms later than the timestamp before it"),
    ],
)
def test_each_time_is_later_than_the_one_before(second: float, told_of_it: str) -> None:
    (error,) = refused(None, [0.5, second, 0.54, 0.56])
    assert (error.pointer, error.problem) == ("/timestamps/1", told_of_it)


@pytest.mark.parametrize("rate", [10.01, 999])
def test_a_rate_that_some_film_has_is_taken(rate: float) -> None:
    times = [frame / rate for frame in range(N_FRAMES)]
    assert told(None, times) == pytest.approx(times)


@pytest.mark.parametrize("rate", [9.99, 1001])
def test_a_rate_that_no_film_has_is_most_likely_in_another_unit(rate: float) -> None:
    (error,) = refused(None, [frame / rate for frame in range(N_FRAMES)])
    assert error.pointer == "/timestamps"
    assert f"run at {rate:.3g} frames a second, outside 10 to 1000" in error.problem
    assert "in seconds" in error.fix


def test_the_slowest_and_the_fastest_film_are_taken() -> None:
    assert (MIN_FPS, MAX_FPS) == (10.0, 1000.0)
    eighths = [0.0, 0.125, 0.1875, 0.375]  # eight frames a second are too few, in exact numbers
    assert len(refused(None, eighths)) == 1
    assert np.ptp(told(None, [0.0, 0.0625, 0.125, 0.1875])) == 0.1875
