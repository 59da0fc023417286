"""Many swings at once get the answers that each gets alone."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest

from service.analysis import View
from service.analysis.analyse import CHUNK, analyse, analyse_many
from service.analysis.judging.classifier import Classifier
from service.analysis.judging.features import feature_vector, feature_vectors
from service.analysis.measured import MeasuredSwing, measure_swing, measure_swings
from service.analysis.pose.points import Point
from service.analysis.pose.timeline import AT_ONCE
from service.analysis.types import Remark, SwingAnalysis, SwingRecording
from service.settings import Settings
from tests.swings import CLUB, FEET, cut, random_clip, without

WRISTS = [Point.LEAD_WRIST, Point.TRAIL_WRIST]
PLAIN = tuple(field.name for field in fields(SwingAnalysis) if field.type != "FloatArray")


@pytest.fixture(scope="module")
def model() -> Classifier:
    return Classifier.load(Settings().model_dir)


@pytest.fixture(scope="module")
def recordings() -> list[SwingRecording]:
    """Swings from both sides, a clip without one, one without a body, one with a remark; one that
    begins late, one whose feet are lost coming down, one of another frame rate without a club, one
    in which the hands are held where they were lost, one that is zoomed."""
    swings = [random_clip(seed, view)[1] for seed in (1, 2) for view in View]
    late = cut(swings[0], 0.5 * swings[0].times[-1], np.inf)
    footless = replace(swings[2], points=swings[2].points.copy())
    footless.points[len(footless.times) // 2 :, [*FEET, Point.LEAD_ANKLE]] = np.nan
    bare = without(random_clip(3, View.FACE_ON, fps=45.0)[1], CLUB)
    standing = replace(swings[0], points=np.repeat(swings[0].points[:1], len(swings[0].times), 0))
    nobody = replace(swings[1], points=np.full_like(swings[1].points, np.nan))
    told = replace(swings[2], remarks=(Remark("told", None, "Told.", "Nothing."),))
    held = replace(swings[3], points=swings[3].points.copy())
    middle = len(held.times) // 2
    held.points[middle : middle + 24, WRISTS] = held.points[middle, WRISTS]
    gone = np.linspace(0.0, 1.0, len(swings[0].times))[:, None, None]
    zoomed = replace(swings[0], points=swings[0].points * (1.0 + 0.3 * gone))
    odd = [nobody, told, late, held, footless, zoomed, bare]
    return [swings[0], standing, *swings[1:3], *odd, swings[3]]


@pytest.mark.parametrize("with_model", [True, False])
def test_many_swings_at_once_get_the_answers_that_each_gets_alone(
    recordings: list[SwingRecording], model: Classifier, with_model: bool
) -> None:
    classifier = model if with_model else None
    together = analyse_many(recordings, classifier)
    for recording, analysis in zip(recordings, together, strict=True):
        alone = analyse(recording, classifier)
        for name in PLAIN:
            assert getattr(analysis, name) == getattr(alone, name)
        np.testing.assert_array_equal(analysis.coordinate, alone.coordinate)
        np.testing.assert_array_equal(analysis.times, alone.times)


def test_features_of_many_swings_are_those_of_each(recordings: list[SwingRecording]) -> None:
    found = [s for s in measure_swings(recordings) if isinstance(s, MeasuredSwing)]
    alone = [s for r in recordings if isinstance(s := measure_swing(r), MeasuredSwing)]
    assert len(found) > 4
    for vector, swing in zip(feature_vectors(found), alone, strict=True):
        np.testing.assert_array_equal(vector, feature_vector(swing))


def test_more_swings_than_are_estimated_at_once_keep_their_order(
    recordings: list[SwingRecording], model: Classifier
) -> None:
    short = [recordings[1], recordings[4]] * CHUNK
    analyses = analyse_many([*short, recordings[0]], model)
    assert [a.swing_found for a in analyses] == [False] * len(short) + [True]


def test_more_frames_than_are_laid_end_to_end_get_their_answers_in_order(
    recordings: list[SwingRecording],
) -> None:
    few = analyse_many(recordings)
    rounds = 2 + AT_ONCE // sum(len(each.times) for each in recordings)
    order = np.random.default_rng(0).permutation(list(range(len(few))) * rounds).tolist()
    for k, analysis in zip(order, analyse_many([recordings[k] for k in order]), strict=True):
        assert all(getattr(analysis, name) == getattr(few[k], name) for name in PLAIN)


def test_no_swings_get_no_answers(model: Classifier) -> None:
    assert analyse_many([], model) == []
