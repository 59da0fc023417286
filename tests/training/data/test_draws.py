import numpy as np

from service.analysis.pose.points import Point
from training.data.draws import random_length
from training.data.sources import clips_of


def test_most_swings_are_full_and_some_are_half_swings_and_pitches():
    rng = np.random.default_rng(0)
    lengths = np.array([random_length(rng) for _ in range(2000)])
    assert lengths.min() >= 0.35
    assert 0.7 < np.mean((lengths > 0.9) & (lengths < 1.05)) < 0.85
    assert 0.03 < np.mean(lengths < 0.5) < 0.08


def test_golfers_of_key_positions_make_short_swings_too():
    above = []
    for number in range(60):
        motion = next(clips_of("keyed", "train", 3, number)).motion
        top = motion.canonical_joints(motion.position_times[[3]])[0]
        above.append(top[Point.LEAD_WRIST, 1] - top[Point.LEAD_SHOULDER, 1])
    assert min(above) < 0.0 < np.median(above)
