from __future__ import annotations

import doctest
from dataclasses import replace

import numpy as np
import pytest

from service.analysis.judging.classifier import Classifier
from service.analysis.judging.estimates import USUAL, Range
from service.analysis.judging.features import FEATURE_NAMES, feature_vector
from service.analysis.measured import MeasuredSwing, measure_swing
from service.analysis.types import View
from service.observing import drift
from service.observing.drift import CHANGED, FEWEST, WINDOW, Drift, stability_index
from service.settings import Settings
from training.data.sources import clips_of

N = len(FEATURE_NAMES)
SHIFTED = FEATURE_NAMES.index("clip.frames_down")


def normal_drift() -> tuple[Drift, np.random.Generator]:
    """Of features drawn from a normal distribution in training."""
    columns = np.arange(N, dtype=np.intp)
    bound = np.full(N, 2.3263, dtype=np.float32)  # the 99th percentile of the normal distribution
    known = Range(columns, -bound, bound, 0.1)
    return Drift({View.FACE_ON: known}), np.random.default_rng(4)


def add(watched: Drift, rng: np.random.Generator, n: int, shift: float = 0.0) -> None:
    for _ in range(n):
        vector = rng.normal(size=N).astype(np.float32)
        vector[SHIFTED] += shift
        watched.add(View.FACE_ON, vector)


def test_the_worked_example_holds():
    assert doctest.testmod(drift).failed == 0


def test_swings_like_those_of_training_do_not_drift():
    watched, rng = normal_drift()
    add(watched, rng, 500)
    assert {w.group for w in watched.worst()} == {name.partition(".")[0] for name in FEATURE_NAMES}
    assert max(w.index for w in watched.worst()) < CHANGED


def test_a_feature_that_leaves_its_range_is_named():
    watched, rng = normal_drift()
    add(watched, rng, 300, shift=2.0)
    worst = max(watched.worst(), key=lambda w: w.index)
    assert worst.index > CHANGED
    assert (worst.group, worst.feature) == ("clip", "clip.frames_down")


def test_what_is_long_past_is_forgotten():
    watched, rng = normal_drift()
    add(watched, rng, 300, shift=2.0)
    add(watched, rng, int(5 * WINDOW))
    assert max(w.index for w in watched.worst()) < CHANGED


def test_nothing_is_said_of_few_swings_or_of_what_was_never_seen():
    watched, rng = normal_drift()
    add(watched, rng, int(FEWEST) - 1, shift=9.0)
    assert watched.worst() == []
    assert np.isnan(stability_index(np.zeros((2, 3)))).all()


def test_missing_features_are_not_counted():
    watched, _ = normal_drift()
    for _ in range(200):
        watched.add(View.FACE_ON, np.full(N, np.nan, dtype=np.float32))
    assert watched.worst() == []


def test_the_served_ranges_are_those_percentiles():
    assert USUAL == (1.0, 99.0)
    ranges = Classifier.load(Settings().model_dir).ranges
    assert set(ranges) == set(View)


@pytest.mark.parametrize("slow", [False, True], ids=["as they are", "at a third of the frames"])
def test_clips_of_a_shifted_setting_drift_in_how_they_were_filmed(
    slow: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(drift, "FEWEST", 12.0)
    seen = []
    classifier = Classifier.load(Settings().model_dir)
    watched = Drift(classifier.ranges)
    for vector in _vectors(slow):
        watched.add(View.FACE_ON, vector)
        seen.append(vector[SHIFTED])
    found = {w.group: w for w in watched.worst()}
    assert len(seen) >= 14
    if slow:
        assert found["clip"].index > CHANGED
    else:
        down = classifier.ranges[View.FACE_ON]
        low = down.low[list(down.columns).index(SHIFTED)]
        assert np.mean(np.array(seen) < low) < 0.15


def _vectors(slow: bool) -> list[np.ndarray]:
    vectors = []
    for number in range(18):
        clip = next(
            c for c in clips_of("joint angles", "test", 1, number) if c.view is View.FACE_ON
        )
        recording = clip.recording
        if slow:
            keep = slice(None, None, max(1, round(recording.times.size / 40)))
            recording = replace(
                recording,
                points=recording.points[keep],
                confidence=recording.confidence[keep],
                times=recording.times[keep],
            )
        swing = measure_swing(recording)
        if isinstance(swing, MeasuredSwing) and swing.view.value is View.FACE_ON:
            vectors.append(feature_vector(swing))
    return vectors
