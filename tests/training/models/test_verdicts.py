"""Verdicts on clips of a data set, and the choice of estimators by them."""

from __future__ import annotations

from dataclasses import replace
from itertools import chain
from unittest.mock import patch

import numpy as np
import pytest

from service.analysis.events.positions.network import using_network
from service.analysis.faults import CATALOGUE, MEASURES
from service.analysis.judging.rules import judge_all
from service.analysis.measured import MeasuredSwing, measure_swing
from service.analysis.types import Finding, Status, View
from tests.training.small import ESTIMATED, FEW, GOLFERS, data
from training.data.dataset import Dataset
from training.data.rows import Rows
from training.data.sources import clips_of
from training.models.fit import pairs
from training.models.learn import learn
from training.models.left_out import learnt_without
from training.models.trial import try_left_out
from training.models.verdicts import WRONG_COSTS, Verdicts, scores_of, verdicts_by

MEASURE = {m.name: m for m in MEASURES}
CHOSEN = [(m, v) for m, v in pairs() if (m.name, v) in ESTIMATED]
KNEE, DRIFT = ((MEASURE[name], view) for name, view in ESTIMATED)


def _swings(source: str, golfers: int) -> list[MeasuredSwing]:
    """What was measured in the clips of the first golfers of a source, as the data set has it."""
    with using_network(learnt_without(source)):
        clips = list(chain.from_iterable(clips_of(source, "train", 5, k) for k in range(golfers)))
        swings = [(measure_swing(clip.recording), clip.view) for clip in clips]
    return [s for s, view in swings if isinstance(s, MeasuredSwing) and s.view.value is view]


def test_the_scores_of_a_data_set_are_those_of_the_service():
    source = next(iter(GOLFERS))
    swings = _swings(source, 6)
    rows = data().only((data().source == 0) & (data().golfer < 6))
    assert len(rows) == len(swings)
    told = [{f.fault: f for f in findings} for findings in judge_all(swings)]
    statuses = set()
    for definition in CATALOGUE.values():
        for view in definition.views:
            scores, _ = scores_of(rows, definition, view)
            for row, (swing, score) in enumerate(zip(swings, scores, strict=True)):
                finding: Finding = told[row][definition.name]
                if swing.view.value is not view or finding.status is Status.NOT_ASSESSABLE:
                    assert np.isnan(score)
                else:
                    assert score == pytest.approx(finding.score)
                statuses.add(finding.status)
    assert statuses >= {Status.PRESENT, Status.ABSENT, Status.NOT_ASSESSABLE}


def _made(values: list[float], error: float, margins: list[float], *, shown: bool) -> Dataset:
    """As many clips face on, with the drift of the upper body, its uncertainty and what is true."""
    face_on = np.flatnonzero(data().of_view(View.FACE_ON))[: len(values)]
    chosen = np.isin(np.arange(len(data())), face_on)
    fault = Dataset.fault_index("upper_body_drift")
    made = data().only(chosen).copy_of_values()
    places = np.arange(len(values))
    made.put(DRIFT[0], places, np.array(values), np.full(len(values), error))
    margin, seen = made.margin.copy(), made.shown.copy()
    margin[:, fault], seen[:, fault] = margins, shown
    return replace(made, margin=margin, shown=seen)


def test_verdicts_are_counted_by_what_is_true():
    threshold = next(iter(CATALOGUE["upper_body_drift"].criteria[View.FACE_ON])).threshold
    values = [threshold + 9.0, threshold + 9.0, threshold - 9.0, threshold - 9.0, threshold]
    told = _made(values, 0.5, [3.0, -0.5, -3.0, 2.0, 1.5], shown=True)
    counted, worth = verdicts_by(told, *DRIFT)
    assert counted == Verdicts(decided=4, wrong=2, there=3, told=1)
    assert worth.tolist() == [[1.0, -WRONG_COSTS, 0.0, -WRONG_COSTS, 0.0]]
    vague = _made(values, 100.0, [3.0, -0.5, -3.0, 2.0, 1.5], shown=True)
    assert verdicts_by(vague, *DRIFT)[0] == Verdicts(decided=0, wrong=0, there=3, told=0)
    hidden = _made(values, 0.5, [3.0, -0.5, -3.0, 2.0, 1.5], shown=False)
    assert verdicts_by(hidden, *DRIFT)[0] == Verdicts(decided=0, wrong=0, there=0, told=0)


def _learnt_where(told_with: dict[str, float]):
    """What is learnt, and the trials, if estimates told the truth with such standard deviations."""

    def tried(measure, view: View, rows: Rows, names):
        trial, *_ = try_left_out(measure, view, rows, names)
        spread = np.full(len(rows), told_with[measure.name])
        return replace(trial, nearer=True), rows.truth, spread

    with (
        patch("training.models.trial._LEAST_ROWS", FEW),
        patch("training.models.learn.try_left_out", tried),
        patch("training.models.verdicts.WRONG_COSTS", 0.0),  # of so few clips one settles nothing
    ):
        return learn(data(), CHOSEN)


def _learnt_from_too_few():
    with patch("training.models.trial._LEAST_ROWS", len(data()) + 1):
        return learn(data(), CHOSEN)


def test_an_estimator_that_leaves_faults_untold_is_left_out_and_one_that_tells_them_is_served():
    vague, sure = KNEE, DRIFT
    learned, trials = _learnt_where({vague[0].name: 1e3, sure[0].name: 0.05})
    by_name = {trial.measure: trial for trial in trials}
    left_out, served = by_name[vague[0].name], by_name[sure[0].name]
    assert left_out.verdicts == replace(left_out.verdicts, decided=0, wrong=0, told=0)
    assert left_out.verdicts_measured.told > 0
    assert served.verdicts.told == served.verdicts.there > 0
    assert (left_out.served, served.served) == (False, True)
    assert [(e.measure, e.view) for e in learned.estimators] == [(sure[0].name, sure[1])]
    (fault,) = (
        d.name
        for d in CATALOGUE.values()
        if vague[0].name in {c.measure.name for c in d.criteria.get(vague[1], ())}
    )
    alone, _ = _learnt_from_too_few()
    assert learned.calibrations[fault, vague[1]] == alone.calibrations[fault, vague[1]]
    assert learned.calibrations != alone.calibrations


def test_what_did_not_come_nearer_to_the_truth_is_not_judged_by():
    learned, trials = _learnt_from_too_few()
    assert not learned.estimators
    assert {(t.nearer, t.verdicts, t.served) for t in trials} == {(False, None, False)}
