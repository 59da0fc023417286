"""Whatever a pose estimator sends, the analysis answers and does not fall over."""

import dataclasses
import warnings

import numpy as np
import pytest

from service.analysis.analyse import analyse
from service.analysis.pose.points import ANATOMICAL, N_POINTS
from service.analysis.types import (
    Handedness,
    Intent,
    Source,
    Status,
    SwingAnalysis,
    SwingRecording,
    View,
)
from tests.swings import random_clip
from training.simulator import EstimatorNoise, film, random_camera, random_swing

LEG = ("knee", "ankle", "heel", "toe", "small_toe")


def rough_clip(seed: int) -> SwingRecording:
    """A swing cut anywhere, with whole joints missing, gaps, swaps and heavy noise."""
    rng = np.random.default_rng(seed)
    intent = Intent(rng.choice(list(Intent)))
    motion = random_swing(rng, intent=intent, length=float(rng.uniform(0.25, 1.15)))
    noise = EstimatorNoise(
        level=rng.uniform(0.1, 1.0), gaps=rng.uniform(0.0, 2.0), swaps=rng.uniform(0.0, 1.0)
    )
    view = View(rng.choice(list(View)))
    clip = film(
        motion,
        random_camera(rng, view),
        fps=float(rng.choice([24, 30, 60, 120, 240])),
        noise=noise,
        rng=rng,
    )
    clip.points[:, rng.random(N_POINTS) < rng.choice([0.0, 0.2, 0.5])] = np.nan
    first, last = sorted(rng.integers(0, len(clip.times), 2))
    part = slice(first, last) if last - first > 12 and rng.random() < 0.5 else slice(None)
    return SwingRecording(
        points=clip.points[part],
        confidence=np.where(np.isnan(clip.points[part, :, 0]), 0.0, clip.confidence[part]),
        times=clip.times[part] - clip.times[part][0],
        view=rng.choice([None, *View]),
        handedness=rng.choice([None, *Handedness]),
        intent=intent,
    )


@pytest.mark.parametrize("block", range(10))
def test_rough_clips_are_answered_without_a_warning(block):
    found = 0
    for seed in range(20 * block, 20 * block + 20):
        recording = rough_clip(seed)
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            result = analyse(recording)
        found += result.swing_found
        check_answer(result, recording)
    # Half the clips are cut anywhere, or lack the joints that a swing is told by.
    assert 5 <= found < 20


def check_answer(result: SwingAnalysis, recording: SwingRecording) -> None:
    """What every answer keeps to, however rough the clip."""
    assert result.swing_found == (result.reason is None)
    assert bool(result.findings) == result.swing_found
    assert bool(result.positions) == result.swing_found
    times = [p.time for p in result.positions if p.time is not None]
    assert times == sorted(times)
    assert all(0.0 <= time <= recording.times[-1] for time in times)
    for position in result.positions:
        missing = position.source is Source.NOT_FOUND
        assert (position.time is None) == missing
        assert not (missing and position.reason is None)
        assert not (position.source is Source.OBSERVED and position.reason)
    for found in result.findings:
        left_open = found.status is Status.NOT_ASSESSABLE
        assert left_open == (found.reason is not None) == (found.score is None)
        if not left_open:
            assert 0.0 <= found.score <= 1.0
            assert found.evidence
            assert all(np.isfinite((e.value, e.uncertainty)).all() for e in found.evidence)


@pytest.mark.parametrize("seed", range(5))
def test_pure_noise_is_no_swing(seed):
    rng = np.random.default_rng(seed)
    points = rng.normal(500.0, 100.0, (60, N_POINTS, 2))
    result = analyse(SwingRecording(points, np.ones((60, N_POINTS)), np.arange(60) / 30.0))
    assert not result.swing_found
    assert result.reason is not None


def test_uneven_frame_times_are_normal():
    rng = np.random.default_rng(1)
    motion = random_swing(rng)
    times = np.cumsum(rng.uniform(0.5, 1.5, 600)) / 110.0
    times = times[times < motion.duration]
    clip = film(motion, random_camera(rng, View.FACE_ON), times=times)
    result = analyse(clip)
    missed = [abs(p.time - t) for p, t in zip(result.positions, motion.position_times, strict=True)]
    assert max(missed[2:9]) < 0.05


@pytest.mark.parametrize(
    ("view", "seed"),
    [*((View.FACE_ON, n) for n in range(4)), (View.DOWN_THE_LINE, 0), (View.DOWN_THE_LINE, 2)],
)
def test_legs_exchanged_from_the_downswing_on_change_no_finding(view, seed):
    motion, recording = random_clip(seed, view, fps=30.0)
    sides = [[ANATOMICAL.index(f"{side}_{joint}") for joint in LEG] for side in ("left", "right")]
    late = recording.times > motion.position_times[5]
    points = recording.points.copy()
    for here, there in (sides, sides[::-1]):
        points[np.ix_(late, here)] = recording.points[np.ix_(late, there)]
    told = analyse(dataclasses.replace(recording, points=points)).findings
    usual = analyse(recording).findings
    assert len({f.status for f in usual}) > 1
    assert [f.status for f in told] == [f.status for f in usual]
