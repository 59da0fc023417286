"""A make that is left out is judged by nothing that was learned from it."""

from __future__ import annotations

from contextlib import nullcontext
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from service.analysis.types import Status
from tests.training.evaluation.test_tallies import ROW, verdict
from training.data.dataset import Dataset
from training.evaluation import left_out
from training.evaluation.left_out import JUDGED_BY, figures, judge_left_out, judge_source


def test_what_judges_a_make_was_learned_from_the_others(monkeypatch: pytest.MonkeyPatch) -> None:
    learned_from: list[set[int]] = []

    def learn(rows: Any, **_: object) -> tuple[None, None]:
        learned_from.append(set(rows.source.tolist()))
        return None, None

    monkeypatch.setattr(left_out, "learn", learn)
    monkeypatch.setattr(left_out, "export", lambda *_: None)
    monkeypatch.setattr(left_out, "judge_source", lambda name, *_: {by: [] for by in JUDGED_BY})
    source = np.array([0, 1, 1, 2])
    data = SimpleNamespace(
        sources=("joint angles", "shifted", "keyed"),
        source=source,
        only=lambda rows: SimpleNamespace(source=source[rows]),
    )
    judged = judge_left_out(cast(Dataset, data), clips=4, seed=1)
    assert list(judged) == list(data.sources)
    assert learned_from == [{1, 2}, {0, 2}, {0, 1}]


def test_positions_of_a_make_are_placed_by_the_network_learnt_without_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    asked: list[tuple[str, str, int]] = []
    monkeypatch.setattr(left_out.Classifier, "load", lambda _: None)
    monkeypatch.setattr(left_out, "learnt_without", lambda name: name)
    monkeypatch.setattr(left_out, "using_network", lambda name: nullcontext(asked.append(name)))
    monkeypatch.setattr(left_out, "clips_of", lambda *_: [SimpleNamespace()] * 4)
    monkeypatch.setattr(left_out, "row_of", lambda clip, *judge: len(judge))
    told = judge_source("keyed", clips=8, seed=1, models=Path("none"))
    assert asked == ["keyed"] * 2, "of one golfer four clips are made"
    assert told == {"rules alone": [0] * 8, "learned": [1] * 8}


def test_figures_are_told_of_all_makes_and_of_each_kind_of_errors() -> None:
    gentle = replace(ROW, verdicts=(verdict(Status.PRESENT, 2.0, chance=0.97)[1],))
    real = replace(gentle, estimated=True, verdicts=(verdict(Status.ABSENT, 2.0, chance=0.93)[1],))
    told = figures({"keyed": {by: [gentle, gentle, real] for by in JUDGED_BY}})
    assert list(told) == ["all", "all, gentler errors", "all, a real estimator's", "keyed"]
    wrong = {name: each["learned"]["verdicts"]["wrong"] for name, each in told.items()}
    assert wrong == pytest.approx(
        {"all": 1 / 3, "all, gentler errors": 0.0, "all, a real estimator's": 1.0, "keyed": 1 / 3}
    )
    ((mean, present, count),) = told["all"]["learned"]["reliability"]
    assert (mean, present, count) == (pytest.approx(np.mean([0.97, 0.97, 0.93])), 1.0, 3)
