"""Reasons as a reader meets them."""

import pytest

from service.analysis.faults import CATALOGUE
from service.analysis.judging.rules import _too_few_in_words
from service.analysis.types import View


@pytest.mark.parametrize(
    ("frames", "told"),
    [
        (0.3, "Hardly a frame falls"),
        (1.0, "Only one frame falls"),
        (1.4, "Only one frame falls"),
        (3.2, "Only about 3 frames fall"),
    ],
)
def test_frames_are_counted_in_whole_ones(frames, told):
    assert _too_few_in_words(frames) == told


def test_no_checkpoint_asks_for_less_than_its_threshold_does():
    cup = CATALOGUE["lead_wrist_cup"]
    assert cup.criteria[View.FACE_ON][0].threshold > 10.0
    assert "one line" not in cup.checkpoint
    assert "in line" not in cup.kept


def test_no_checkpoint_sends_the_player_to_another_club():
    for definition in CATALOGUE.values():
        assert " club and " not in definition.checkpoint
        assert "as far" not in definition.checkpoint
