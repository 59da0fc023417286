"""Many swings at once get the answers that each gets alone."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest

from service.analysis import View, analyse, analyse_many
from service.analysis.analyse import CHUNK
from service.analysis.judging.classifier import Classifier
from service.analysis.types import Remark, SwingAnalysis, SwingRecording
from service.settings import Settings
from tests.swings import random_clip

PLAIN = tuple(field.name for field in fields(SwingAnalysis) if field.type != "FloatArray")


@pytest.fixture(scope="module")
def model() -> Classifier:
    return Classifier.load(Settings().model_dir)


@pytest.fixture(scope="module")
def recordings() -> list[SwingRecording]:
    """Swings from both sides, a clip without one, one without a body, one with a remark."""
    swings = [random_clip(seed, view)[1] for seed in (1, 2) for view in View]
    standing = replace(swings[0], points=np.repeat(swings[0].points[:1], len(swings[0].times), 0))
    nobody = replace(swings[1], points=np.full_like(swings[1].points, np.nan))
    told = replace(swings[2], remarks=(Remark("told", None, "Told.", "Nothing."),))
    return [swings[0], standing, *swings[1:3], nobody, told, swings[3]]


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


def test_more_swings_than_are_estimated_at_once_keep_their_order(
    recordings: list[SwingRecording], model: Classifier
) -> None:
    short = [recordings[1], recordings[4]] * CHUNK
    analyses = analyse_many([*short, recordings[0]], model)
    assert [a.swing_found for a in analyses] == [False] * len(short) + [True]


def test_no_swings_get_no_answers(model: Classifier) -> None:
    assert analyse_many([], model) == []
