"""Learn where P1, P4 and P10 lie from what is well seen about them.

``python -m training.models.fit_positions`` writes the rules of
:mod:`service.analysis.events.refinement`. The golfers it learns from are in none of the other
splits.
"""

from __future__ import annotations

import json
import os
from collections import defaultdict
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path
from typing import Any, Final

import numpy as np
from sklearn.linear_model import RidgeCV
from sklearn.preprocessing import StandardScaler
from tqdm import tqdm

import service.analysis.events
from service.analysis.events.landmark_paths import follow
from service.analysis.events.positions import find_positions, position_marks
from service.analysis.events.refinement import REFINED, TABLE, Marks
from service.analysis.measured import measure_swing
from service.analysis.types import FloatArray, Intent, Source, SwingAnalysis, View
from training.data.dataset import Clip, clips_of_golfer

SEED: Final[int] = 5
GOLFERS: Final[int] = 1500
_ALPHAS: Final[FloatArray] = np.logspace(-1, 3, 9)
_OUTLYING: Final[float] = 0.15
"""Seconds; a clip that is off by more was misread, and tells nothing of the rule."""
Case = tuple[int, View, Intent]


def learn(
    golfers: int, seed: int = SEED, jobs: int = 1, *, quiet: bool = False
) -> list[dict[str, Any]]:
    """Rules for every position, view and intent."""
    seen: dict[Case, list[tuple[Marks, float]]] = defaultdict(list)
    with ProcessPoolExecutor(jobs) as pool:
        taught = pool.map(partial(_lessons_of_golfer, seed), range(golfers), chunksize=8)
        for lessons in tqdm(taught, total=golfers, desc="positions golfers", disable=quiet):
            for case, marks, truth in lessons:
                seen[case].append((marks, truth))
    return [_rule(case, examples) for case, examples in sorted(seen.items())]


def _lessons_of_golfer(seed: int, number: int) -> list[tuple[Case, Marks, float]]:
    return [
        ((position, clip.view, clip.motion.intent), marks, truth)
        for clip in clips_of_golfer(seed, "train", number)
        for position, marks, truth in _lessons(clip)
    ]


def _lessons(clip: Clip) -> Iterator[tuple[int, Marks, float]]:
    found = measure_swing(clip.recording)
    if isinstance(found, SwingAnalysis) or found.view.value is not clip.view:
        return
    tracks = follow(found.poses, found.times)
    about = (found.poses, tracks, found.downswing, clip.view, found.point_error)
    rough = find_positions(*about, None)
    times = {p.number: p.time for p in rough if p.time is not None}
    seen = {p.number for p in rough if p.source is Source.OBSERVED}
    truth = clip.motion.position_times - clip.start
    for number in REFINED:
        marks = position_marks(number, *about, times) if number in seen else None
        if marks is not None and np.isfinite(truth[number - 1]):
            yield number, marks, float(truth[number - 1])


def _rule(case: Case, examples: list[tuple[Marks, float]]) -> dict[str, Any]:
    """Ridge regression on standardised marks, folded back into their own units."""
    values = np.array([m.values for m, _ in examples])
    unit = np.array([m.unit for m, _ in examples])
    target = np.array([(t - m.reference) / m.unit for m, t in examples])
    usual = np.nanmedian(np.where(np.isnan(values).all(axis=0), 0.0, values), axis=0)
    filled = np.where(np.isnan(values), usual, values)
    kept = np.abs(target - np.median(target)) * unit < 10.0 * _OUTLYING
    for _ in range(2):
        scaler = StandardScaler().fit(filled[kept])
        ridge = RidgeCV(_ALPHAS).fit(scaler.transform(filled[kept]), target[kept])
        left = (ridge.predict(scaler.transform(filled)) - target) * unit
        kept = np.abs(left) < _OUTLYING * (3.0 if case[2] is Intent.REHEARSAL else 1.0)
    weights = ridge.coef_ / scaler.scale_
    number, view, intent = case
    return {
        "position": number,
        "view": view.value,
        "intent": intent.value,
        "intercept": round(float(ridge.intercept_ - weights @ scaler.mean_), 6),
        "spread": round(float(np.std(left[kept])), 4),
        "weights": [round(float(w), 6) for w in weights],
        "usual": [round(float(u), 5) for u in usual],
    }


def write(rules: list[dict[str, Any]], path: Path) -> None:
    """Write rules, one a line."""
    lines = ",\n".join(json.dumps(rule) for rule in rules)
    path.write_text(f'{{"rules": [\n{lines}\n]}}\n', encoding="utf-8")


if __name__ == "__main__":
    write(
        learn(GOLFERS, jobs=os.cpu_count() or 1),
        Path(service.analysis.events.__file__).parent / TABLE,
    )
