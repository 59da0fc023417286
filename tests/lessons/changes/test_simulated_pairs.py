"""Comparisons of simulated swings.

The larger run is ``python -m training.evaluation.comparisons``.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from service.analysis.types import View
from service.lessons import MeasureChange, Verdict
from training.evaluation.comparisons import (
    CHANGED,
    CLEAR_STEP,
    MeasureTrial,
    Trial,
    by_measure,
    detectable,
    run_trials,
    share_right,
    share_unchanged,
    spread_ratio,
)

PAIRS = 20
KINDS = ("repeat", "30 / 120", "mirrored", CHANGED)
LEAST_UNCHANGED = 0.90
LEAST_RIGHT = 0.95


@pytest.fixture(scope="module", params=list(View))
def trials(request: pytest.FixtureRequest) -> list[Trial]:
    return list(run_trials(PAIRS, request.param, seed=8, kinds=KINDS))


def pooled(trials: list[Trial], kind: str) -> list[MeasureTrial]:
    measures = by_measure(t for t in trials if t.kind == kind)
    return [trial for each in measures.values() for trial in each]


@pytest.mark.parametrize("kind", ["repeat", "30 / 120", "mirrored"])
def test_the_same_swing_seen_twice_shows_no_detectable_change(
    trials: list[Trial], kind: str
) -> None:
    same = pooled(trials, kind)
    assert len(same) > 20 * PAIRS
    assert share_unchanged(same) >= LEAST_UNCHANGED


@pytest.mark.parametrize("kind", ["repeat", "30 / 120", "mirrored"])
def test_no_fault_comes_or_goes_in_the_same_swing_seen_twice(
    trials: list[Trial], kind: str
) -> None:
    verdicts = [
        fault.verdict
        for trial in trials
        if trial.kind == kind
        for fault in trial.comparison.faults
        if fault.verdict is not Verdict.NOT_COMPARABLE
    ]
    quiet = sum(v is Verdict.NO_DETECTABLE_CHANGE for v in verdicts)
    assert quiet >= LEAST_UNCHANGED * len(verdicts)


def test_a_change_that_can_be_detected_has_the_right_direction(trials: list[Trial]) -> None:
    large = detectable(pooled(trials, CHANGED))
    assert len(large) > 2 * PAIRS
    assert share_right(large) >= LEAST_RIGHT


def test_a_fault_that_grew_is_not_called_better_nor_one_that_shrank_worse(
    trials: list[Trial],
) -> None:
    right = wrong = 0
    for trial in (t for t in trials if t.kind == CHANGED):
        for fault in trial.comparison.faults:
            step = trial.steps[fault.fault]
            if abs(step) < CLEAR_STEP or fault.verdict not in (Verdict.BETTER, Verdict.WORSE):
                continue
            expected = Verdict.WORSE if step > 0.0 else Verdict.BETTER
            right += fault.verdict is expected
            wrong += fault.verdict is not expected
    assert right + wrong > PAIRS // 3
    assert right >= LEAST_RIGHT * (right + wrong)


def test_changes_as_large_as_they_are_stated_have_a_ratio_of_one() -> None:
    stated = MeasureChange(
        "arm", "Arm", "degrees", "P4", Verdict.NO_DETECTABLE_CHANGE, smallest_detectable=1.96
    )
    seen = np.random.default_rng(5).normal(size=4000)
    trials = [MeasureTrial(replace(stated, change=float(change)), 0.0) for change in seen]
    assert spread_ratio(trials) == pytest.approx(1.0, abs=0.05)
