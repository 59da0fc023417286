"""What conditioning computes by hand for speed, held against numpy and scipy."""

from __future__ import annotations

import warnings

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import array_shapes, arrays
from scipy.integrate import quad
from scipy.interpolate import BarycentricInterpolator, make_smoothing_spline
from scipy.signal import butter, sosfreqz

from service.analysis.pose.repairs.smoothing import (
    _STIFFNESS,
    _TWO_PASSES,
    _smooth,
    _system,
    _taken,
)
from service.analysis.pose.repairs.spikes import _cubic_weights
from service.analysis.pose.rows import row_median
from service.analysis.pose.timeline import Timeline
from service.analysis.types import BoolArray, FloatArray


def _by_least_squares(
    raw: FloatArray, bent: BoolArray, times: FloatArray, stiffness: float
) -> FloatArray:
    """One coordinate of one point, by numpy's dense least squares; NaN where nothing ties it."""
    n = len(times)
    step = np.diff(times)
    fit = np.diag(np.sqrt(np.gradient(times)))[~np.isnan(raw)]
    bend = np.zeros((n - 2, n))
    for k in range(n - 2):
        span = (step[k] + step[k + 1]) / 2
        slopes = np.array([[-1, 1, 0], [0, -1, 1]]) / step[k : k + 2, None]
        bend[k, k : k + 3] = np.sqrt(stiffness * span) * (slopes[1] - slopes[0]) / span
    rows = np.concatenate([fit, bend[bent]])
    target = np.concatenate([(fit @ np.nan_to_num(raw)), np.zeros(bent.sum())])
    found: FloatArray = np.linalg.lstsq(rows, target, rcond=None)[0]
    return np.where((rows != 0).any(axis=0), found, np.nan)


def _smoothed(raw: FloatArray, times: FloatArray, bent: BoolArray) -> FloatArray:
    """Paths of shape (2, n_frames) of one point."""
    observed = ~np.isnan(raw[0])
    unit, mass = _system(Timeline.of([times]), observed, bent)
    return _smooth(np.where(observed, raw, 0.0), unit, mass, float(_STIFFNESS[0]))


def _noisy(times: FloatArray, seed: int) -> FloatArray:
    """Paths of shape (2, n_frames)."""
    rng = np.random.default_rng(seed)
    waves = np.sin(2 * np.pi * rng.uniform(0.5, 6.0, (2, 1)) * times)
    return waves + 0.05 * rng.standard_normal(waves.shape)


@pytest.mark.parametrize("seed", range(6))
def test_the_smooth_path_is_the_one_of_least_squares_with_uneven_frames_and_gaps(seed):
    rng = np.random.default_rng(seed)
    times = np.cumsum(rng.uniform(0.5, 1.5, 60)) / 60.0
    raw = _noisy(times, seed)
    raw[:, 20:23], raw[:, 40] = np.nan, np.nan
    bent = np.ones(58, dtype=bool)
    bent[30:33] = False  # a cut: what lies before is not tied to what comes after
    smooth = _smoothed(raw, times, bent)
    for axis in range(2):
        expected = _by_least_squares(raw[axis], bent, times, float(_STIFFNESS[0]))
        assert np.isfinite(expected).all()
        np.testing.assert_allclose(smooth[axis], expected, atol=1e-7)


def test_at_many_frames_the_smooth_path_is_the_smoothing_spline_of_scipy():
    times = np.arange(480) / 240.0
    raw = _noisy(times, 3)
    smooth = _smoothed(raw, times, np.ones(478, dtype=bool))
    for axis in range(2):
        path = raw[axis]
        spline = make_smoothing_spline(times, path, w=np.gradient(times), lam=float(_STIFFNESS[0]))(
            times
        )
        off = np.abs(smooth[axis] - spline)
        assert off.max() < 0.05 * np.abs(path - spline).std()


@pytest.mark.parametrize("frequency", [2.0, 5.0, 8.0, 12.0, 20.0])
def test_waves_pass_as_through_a_butterworth_filter_run_both_ways(frequency):
    rate, cutoff = 960.0, (_STIFFNESS[0] ** -0.25) / (2 * np.pi)
    times = np.arange(int(6 * rate)) / rate
    wave = np.sin(2 * np.pi * frequency * times)
    raw = np.stack([wave, wave])
    smooth = _smoothed(raw, times, np.ones(len(times) - 2, dtype=bool))[0]
    middle = slice(int(2 * rate), int(4 * rate))
    kept = smooth[middle] @ wave[middle] / (wave[middle] @ wave[middle])
    _, once = sosfreqz(butter(2, cutoff, fs=rate, output="sos"), [frequency], fs=rate)
    assert kept == pytest.approx(abs(once[0]) ** 2, abs=2e-3)
    assert pytest.approx((np.sqrt(2) - 1) ** 0.25, abs=5e-4) == _TWO_PASSES


@pytest.mark.parametrize("stiffness", [0.1, 10.0, 3000.0])
def test_the_noise_taken_is_the_integral_of_the_response(stiffness):
    def kept(angle: float) -> float:
        return 1 / (1 + stiffness * (2 - 2 * np.cos(angle)) ** 2)

    taken = _taken(np.array([stiffness]))
    assert taken[0] ** 2 == pytest.approx(
        quad(lambda a: (1 - kept(a)) ** 2, 0, np.pi)[0] / np.pi, rel=1e-3
    )


@given(
    arrays(
        float,
        array_shapes(min_dims=2, max_dims=2, max_side=9),
        elements=st.one_of(st.floats(-1e6, 1e6), st.just(float("nan"))),
    )
)
def test_the_median_of_rows_with_gaps_is_numpys(values):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)  # numpy warns of rows of nothing
        expected = np.nanmedian(values, axis=1)
    np.testing.assert_allclose(row_median(values), expected, rtol=1e-12)


@pytest.mark.parametrize("seed", range(5))
def test_the_cubic_through_four_neighbours_is_scipys(seed):
    rng = np.random.default_rng(seed)
    moments = np.cumsum(rng.uniform(0.01, 0.05, 5))
    values = rng.standard_normal(4)
    at = moments[2]
    around = moments[[0, 1, 3, 4]]
    told = values @ _cubic_weights(list(around), at)
    np.testing.assert_allclose(told, BarycentricInterpolator(around, values)(at), rtol=1e-9)
