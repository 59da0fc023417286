import numpy as np
import pytest

from service.analysis.pose.points import Point
from training.data import sources
from training.data.draws import random_length
from training.data.sources import SOURCES


def test_most_swings_are_full_and_some_are_half_swings_and_pitches():
    rng = np.random.default_rng(0)
    lengths = np.array([random_length(rng) for _ in range(2000)])
    assert lengths.min() >= 0.35
    assert 0.7 < np.mean((lengths > 0.9) & (lengths < 1.05)) < 0.85
    assert 0.03 < np.mean(lengths < 0.5) < 0.08


@pytest.mark.parametrize("make", SOURCES)
def test_golfers_of_every_make_swing_as_far_as_is_drawn(make, monkeypatch):
    above = []
    for length in (0.4, 1.0):
        monkeypatch.setattr(sources, "random_length", lambda _rng, length=length: length)
        motion = next(SOURCES[make](np.random.default_rng(1), lambda motion: motion)).motion
        top = motion.canonical_joints(motion.position_times[[3]])[0]
        above.append(top[Point.LEAD_WRIST, 1] - top[Point.LEAD_SHOULDER, 1])
    assert above[0] < 0.0 < above[1]
