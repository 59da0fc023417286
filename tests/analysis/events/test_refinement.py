from __future__ import annotations

import numpy as np
import pytest

from service.analysis.analyse import analyse
from service.analysis.events.landmark_paths import follow
from service.analysis.events.positions import find_positions, position_marks
from service.analysis.events.refinement import REFINED, Marks, Rule, _rules, refine
from service.analysis.measured import measure_swing
from service.analysis.types import Intent, SwingAnalysis, View
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
    rule = _rules()[1, View.FACE_ON, Intent.FULL_SPEED]
    marks = Marks(rule.usual, 100.0, 0.5)
    told = rule.time(marks)
    case = (View.FACE_ON, Intent.FULL_SPEED)
    assert refine(1, marks, told + 0.4, *case) == (told, rule.spread)
    assert refine(1, marks, told + 0.6, *case) is None


@pytest.mark.parametrize("view", list(View))
def test_the_rules_fit_the_marks_taken(view):
    _, recording = random_clip(1000, view, fps=60.0)
    found = measure_swing(recording)
    assert not isinstance(found, SwingAnalysis)
    about = (found.poses, follow(found.poses, found.times), found.downswing, view)
    rough = find_positions(*about, found.point_error, None)
    times = {p.number: p.time for p in rough if p.time is not None}
    for number in REFINED:
        marks = position_marks(number, *about, found.point_error, times)
        assert marks is not None
        for intent in Intent:
            assert _rules()[number, view, intent].weights.shape == marks.values.shape


def test_without_marks_a_position_stays():
    assert refine(1, None, 1.0, View.FACE_ON, Intent.FULL_SPEED) is None
