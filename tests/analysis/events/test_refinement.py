from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from service.analysis.analyse import analyse
from service.analysis.events.landmark_paths import follow
from service.analysis.events.positions import find_positions, position_marks
from service.analysis.events.positions.marks import Marks
from service.analysis.events.positions.refinement import (
    BY_CLUB,
    REFINED,
    Case,
    Rule,
    refine,
    rules,
)
from service.analysis.measured import measure_swing
from service.analysis.types import SwingAnalysis, View
from tests.swings import CLUB, clip, random_clip, without
from training.simulator import FaultAmounts


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


def one_split(*, lost_goes_up: bool) -> Rule:
    """Tells 0.25 for a mark up to 0, 0.75 above it."""
    mark = np.array([[1 if lost_goes_up else 0]])
    return Rule(0.1, mark, np.zeros((1, 1)), np.array([[0.25, 0.75]]), 1)


@pytest.mark.parametrize("lost_goes_up", [True, False])
def test_a_mark_not_seen_goes_the_way_that_was_learnt_for_it(lost_goes_up):
    rule = one_split(lost_goes_up=lost_goes_up)
    told = [rule.told(np.array([mark])) for mark in (-1.0, 1.0, np.nan)]
    assert told == pytest.approx([0.35, 0.85, 0.85 if lost_goes_up else 0.35])


def test_a_rule_is_less_sure_of_a_slower_swing_and_of_fewer_frames():
    rule = replace(one_split(lost_goes_up=True), spread=(0.003, 0.1, 0.5))
    usual, slow, coarse = (
        rule.uncertainty(Marks(np.zeros(1), 1.0, unit, frame))
        for unit, frame in ((0.3, 0.01), (0.9, 0.01), (0.3, 0.04))
    )
    assert usual < min(slow, coarse)


def test_a_position_is_not_moved_beyond_belief():
    case = Case(1, View.FACE_ON, club=True)
    rule = rules()[case]
    marks = Marks(np.zeros(rule.n_marks), 100.0, 0.5, 1 / 60)
    told = 100.0 + 0.5 * rule.told(marks.values)  # in the movement's own unit of time
    assert refine({case: (marks, told + 0.4)}) == {
        case: (pytest.approx(told), rule.uncertainty(marks))
    }
    assert refine({case: (marks, told + 0.6)}) == {}


@pytest.mark.parametrize("view", list(View))
def test_rules_asked_together_tell_what_each_tells_alone(view):
    rng, asked, alone = np.random.default_rng(1), {}, {}
    for case, rule in rules().items():
        if case.view is view and not case.club:
            values = rng.normal(0.0, 3.0, rule.n_marks)
            values[rng.random(rule.n_marks) < 0.2] = np.nan
            asked[case] = Marks(values, 1.0, 0.5, 1 / 60), 1.0 + 0.5 * rule.told(values)
            alone[case] = asked[case][1], rule.uncertainty(asked[case][0])
    together = refine(asked)
    assert together.keys() == alone.keys()
    for case, told in together.items():
        assert told == pytest.approx(alone[case])


@pytest.mark.parametrize("club", [True, False])
@pytest.mark.parametrize("fps", [30.0, 60.0])
@pytest.mark.parametrize("view", list(View))
def test_the_rules_fit_the_marks_taken(view, fps, club):
    _, recording = random_clip(1000, view, fps=fps)
    if not club:
        recording = without(recording, CLUB)
    found = measure_swing(recording)
    assert not isinstance(found, SwingAnalysis)
    about = (found.poses, follow(found.poses, found.times), found.downswing, view)
    rough = find_positions(*about, found.point_error, refined=False)
    times = {p.number: p.time for p in rough if p.time is not None}
    for number in REFINED:
        marks = position_marks(number, *about, found.point_error, times)
        assert marks is not None
        rule = rules().get(Case(number, view, club))
        if number not in BY_CLUB or not club:
            assert rule is not None
            assert rule.n_marks == marks.values.size


@pytest.mark.parametrize("rise", [0.0, 1.5])
@pytest.mark.parametrize("view", list(View))
def test_a_handle_that_rises_through_impact_does_not_bring_impact_forward(view, rise):
    amounts = FaultAmounts(handle_rise=rise)
    swing, recording = clip(view, amounts=amounts, fps=60.0)
    found = analyse(without(recording, CLUB)).positions[6]
    assert found.time == pytest.approx(swing.position_times[6], abs=0.02)


def test_a_case_without_a_rule_keeps_the_place_found():
    marks = Marks(np.zeros(3), 1.0, 0.5, 1 / 60)
    assert refine({Case(2, View.FACE_ON, club=True): (marks, 1.0)}) == {}
