from __future__ import annotations

import numpy as np
import pytest

from service.analysis.analyse import analyse
from service.analysis.refinement import Marks, Rule, refine
from service.analysis.swing import Intent, View
from tests.swings import random_clip


@pytest.mark.parametrize("view", list(View))
def test_start_top_and_finish_are_mostly_within_a_frame_of_ordinary_video(view):
    hits = []
    for seed in range(40):
        motion, recording = random_clip(1000 + seed, view, fps=60.0)
        found = analyse(recording).positions
        hits += [
            found[n - 1].time is not None
            and abs(found[n - 1].time - motion.position_times[n - 1]) <= 0.033
            for n in (1, 4, 10)
        ]
    assert np.mean(hits) >= 0.8


def test_a_mark_not_seen_takes_its_usual_value():
    rule = Rule(np.array([1.0, 2.0]), np.array([0.5, 0.25]), 0.1, 0.01)
    assert rule.time(Marks(np.array([np.nan, 1.0]), 2.0, 0.5)) == pytest.approx(2.0 + 0.5 * 2.6)


def test_a_position_is_not_moved_beyond_belief():
    n = 22
    assert refine(1, Marks(np.zeros(n), 100.0, 0.5), 1.0, View.FACE_ON, Intent.FULL_SPEED) is None


def test_without_marks_a_position_stays():
    assert refine(1, None, 1.0, View.FACE_ON, Intent.FULL_SPEED) is None
