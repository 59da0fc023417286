"""The turns of the hands' path are those that scipy finds."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from scipy.signal import find_peaks

from service.analysis.events.turning_points import turning_points

STEPS = st.lists(st.integers(-3, 3), min_size=2, max_size=60)


@given(STEPS, st.sampled_from([0.5, 1.0, 2.0, 4.0]))
def test_turning_points_are_the_peaks_of_a_signal_and_of_its_negative(steps, prominence):
    values = np.cumsum(steps).astype(float)
    expected = [find_peaks(side, prominence=prominence)[0] for side in (values, -values)]
    assert turning_points(values, prominence) == sorted(np.concatenate(expected).tolist())
