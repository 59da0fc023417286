"""What the trained part is worth on makes of golfers that it was not made from.

Each make is left out in turn: estimators and calibration are learned from the others, as was the
network that places positions (``python -m training.models.fit_positions``), and its own golfers,
whom nothing was learned from, are judged by the rules alone and with what was learned.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from datetime import date
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Final

import numpy as np

from service.analysis.analyse import analyse
from service.analysis.events.positions.network import using_network
from service.analysis.judging.classifier import Classifier
from training.data.dataset import Dataset
from training.data.sources import clips_of
from training.evaluation.sources.rows import Row, row_of
from training.evaluation.sources.tallies import Tally, tally
from training.models.export import export
from training.models.learn import learn
from training.models.left_out import learnt_without
from training.processes import spread_over

_CLIPS_OF_ONE: Final[int] = 4
JUDGED_BY: Final[tuple[str, ...]] = ("rules alone", "learned")
Judged = dict[str, dict[str, list[Row]]]


def judge_left_out(data: Dataset, clips: int, seed: int, jobs: int = 1) -> Judged:
    """Judge clips of every make by rules alone and by what was learned from the other makes.

    Returns
    -------
    mapping of the make left out to rows by :data:`JUDGED_BY`
    """
    judged: Judged = {}
    with TemporaryDirectory() as folder:
        for number, name in enumerate(data.sources):
            models = Path(folder) / str(number)
            learned, _ = learn(data.only(data.source != number), jobs=jobs)
            export(learned, models, "without " + name, date.today())
            judged[name] = judge_source(name, clips, seed, models, jobs)
    return judged


def judge_source(
    name: str, clips: int, seed: int, models: Path, jobs: int = 1
) -> dict[str, list[Row]]:
    """Judge clips of one make by rules alone and by the models of a folder."""
    golfers = range(-(-clips // _CLIPS_OF_ONE))
    judge = partial(_judge_golfer, name, seed, models)
    told = spread_over(jobs, judge, golfers, f"{name} left out")
    return {by: [pair[k] for pairs in told for pair in pairs] for k, by in enumerate(JUDGED_BY)}


def _judge_golfer(name: str, seed: int, models: Path, number: int) -> list[tuple[Row, Row]]:
    classifier = Classifier.load(models)
    with using_network(learnt_without(name)):
        return [
            (row_of(clip), row_of(clip, lambda recording: analyse(recording, classifier)))
            for clip in clips_of(name, "test", seed, number)
        ]


def figures(judged: Judged) -> dict[str, dict[str, Any]]:
    """All figures as JSON-able mappings, by make and by what judged, and ``all`` makes together,
    also by what kind of errors their keypoints have."""
    together = {by: [r for rows in judged.values() for r in rows[by]] for by in JUDGED_BY}
    parts = {
        name: {by: [r for r in rows if r.estimated is real] for by, rows in together.items()}
        for name, real in (("all, gentler errors", False), ("all, a real estimator's", True))
    }
    return {
        name: {by: _figures(rows) for by, rows in by_judge.items()}
        for name, by_judge in {"all": together, **parts, **judged}.items()
    }


def _figures(rows: Sequence[Row]) -> dict[str, Any]:
    told: Tally = tally(rows)
    return {
        "clips": told.clips,
        "found": told.found,
        "verdicts": asdict(told.verdicts),
        "faults": {fault: asdict(t) for fault, t in told.faults.items()},
        "measures": [asdict(m) for m in told.measures],
        "placed": {grade: _listed(shares) for grade, shares in told.placed.items()},
        "reliability": _reliability(rows),
    }


def _listed(shares: np.ndarray[Any, np.dtype[np.float64]]) -> list[float]:
    return [float(s) for s in shares]


def _reliability(rows: Sequence[Row]) -> list[tuple[float, float, int]]:
    """Mean chance told, share truly present and count, in ten even bins."""
    verdicts = [v for r in rows for v in r.verdicts if not np.isnan(v.chance)]
    pairs = [(v.chance, v.margin > 0.0) for v in verdicts]
    chance, present = np.array(pairs).T if pairs else (np.empty(0), np.empty(0))
    place = np.minimum((10 * chance).astype(np.intp), 9)
    return [
        (
            float(chance[place == b].mean()),
            float(present[place == b].mean()),
            int((place == b).sum()),
        )
        for b in range(10)
        if (place == b).any()
    ]
