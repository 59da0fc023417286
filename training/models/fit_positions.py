"""Learn where positions lie from what is well seen about them.

``python -m training.models.fit_positions`` writes the rules of
:mod:`service.analysis.events.refinement`. The golfers it learns from are in none of the other
splits. They are of several makes; the uncertainty of every rule is what is left over on each make
by a rule learnt from the others.
"""

from __future__ import annotations

import json
import os
from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from itertools import chain
from pathlib import Path
from typing import Any, Final, NamedTuple

import numpy as np
from scipy.optimize import nnls
from sklearn.linear_model import RidgeCV
from sklearn.preprocessing import StandardScaler
from tqdm import tqdm

import service.analysis.events
from service.analysis.events.landmark_paths import follow
from service.analysis.events.marks import Marks
from service.analysis.events.positions import club_seen, find_positions, position_marks, to_refine
from service.analysis.events.refinement import REFINED, TABLE, Case, case_of
from service.analysis.measured import examine
from service.analysis.types import BoolArray, FloatArray, Intent, SwingAnalysis
from training.data.dataset import Clip, clips_of_golfer
from training.data.retimed import clips_of_retimed_golfer

SEED: Final[int] = 5
GOLFERS: Final[int] = 1500
"""Golfers of each make."""
MAKES: Final[dict[str, Callable[[int, int], Iterator[Clip]]]] = {
    "home": lambda seed, number: clips_of_golfer(seed, "train", number),
    "shifted": lambda seed, number: clips_of_golfer(seed, "shifted", number),
    "retimed": clips_of_retimed_golfer,
}
"""Makes of golfers: their clips by seed and number."""
_ALPHAS: Final[FloatArray] = np.logspace(-1, 4, 11)
_FEWEST: Final[int] = 150
"""Clips of a case below which no rule is learnt."""
_OUTLYING: Final[Mapping[Intent, float]] = {Intent.FULL_SPEED: 0.15, Intent.REHEARSAL: 0.45}
"""Seconds; a clip that is off by more was misread, and tells nothing of the rule."""


class Lesson(NamedTuple):
    """What was seen about a position of one clip, and when it truly was (seconds)."""

    case: Case
    make: str
    marks: Marks
    truth: float


def learn(
    golfers: int, seed: int = SEED, jobs: int = 1, *, quiet: bool = False
) -> list[dict[str, Any]]:
    """Rules for every position, view, intent and kind of footage."""
    numbers = [(make, n) for n in range(golfers) for make in MAKES]
    with ProcessPoolExecutor(jobs) as pool:
        taught = pool.map(partial(_lessons_of_golfer, seed), numbers, chunksize=8)
        bar = tqdm(taught, total=len(numbers), desc="positions golfers", disable=quiet)
        return rules_from(chain.from_iterable(bar))


def rules_from(lessons: Iterator[Lesson] | list[Lesson]) -> list[dict[str, Any]]:
    """Rules from lessons, one for every case that has enough of them."""
    by_case: dict[Case, list[Lesson]] = defaultdict(list)
    for lesson in lessons:
        by_case[lesson.case].append(lesson)
    return [_rule(case, some) for case, some in sorted(by_case.items()) if len(some) >= _FEWEST]


def _lessons_of_golfer(seed: int, golfer: tuple[str, int]) -> list[Lesson]:
    make, number = golfer
    return [x for clip in MAKES[make](seed, number) for x in lessons_of(clip, make)]


def lessons_of(clip: Clip, make: str) -> Iterator[Lesson]:
    """What one clip teaches; nothing where the service finds no swing or the other view."""
    found = examine(clip.recording)
    if isinstance(found, SwingAnalysis) or found.view.value is not clip.view:
        return
    tracks = follow(found.poses, found.frame_times)
    about = (found.poses, tracks, found.downswing, clip.view, found.point_error)
    rough = find_positions(*about, None)
    times = {p.number: p.time for p in rough if p.time is not None}
    truth = clip.motion.position_times - clip.start
    for number in REFINED:
        if not (to_refine(rough[number - 1]) and np.isfinite(truth[number - 1])):
            continue
        marks = position_marks(number, *about, times)
        if marks is not None:
            intent, club = clip.motion.intent, club_seen(found.poses)
            case = case_of(number, clip.view, intent, marks, club=club)
            yield Lesson(case, make, marks, float(truth[number - 1]))


def _rule(case: Case, lessons: list[Lesson]) -> dict[str, Any]:
    """One rule, and the spread of what it leaves on makes that it was not learnt from."""
    values = np.array([x.marks.values for x in lessons])
    unit = np.array([x.marks.unit for x in lessons])
    frame = np.array([x.marks.frame for x in lessons])
    target = np.array([(x.truth - x.marks.reference) / x.marks.unit for x in lessons])
    makes = np.array([x.make for x in lessons])
    usual = np.nanmedian(np.where(np.isnan(values).all(axis=0), 0.0, values), axis=0)
    filled = np.where(np.isnan(values), usual, values)
    outlying = _OUTLYING[case.intent]
    weights, intercept = _fitted(filled, target, unit, outlying)
    left = np.zeros(len(lessons))
    for make in np.unique(makes):
        others = makes != make
        if others.any():
            w, b = _fitted(filled[others], target[others], unit[others], outlying)
            left[~others] = (filled[~others] @ w + b - target[~others]) * unit[~others]
    return {
        "position": case.number,
        "view": case.view.value,
        "intent": case.intent.value,
        "club": case.club,
        "few_frames": case.few_frames,
        "intercept": round(intercept, 6),
        "spread": _spread(left, unit, frame, np.abs(left) < outlying),
        "weights": [round(float(w), 6) for w in weights],
        "usual": [round(float(u), 5) for u in usual],
    }


def _fitted(
    values: FloatArray, target: FloatArray, unit: FloatArray, outlying: float
) -> tuple[FloatArray, float]:
    """Ridge regression on standardised marks, folded back into their own units."""
    kept = np.abs(target - np.median(target)) * unit < 3.0 * outlying
    for _ in range(3):
        scaler = StandardScaler().fit(values[kept])
        # A second in a slow swing is a second too: what counts is the error in time.
        ridge = RidgeCV(_ALPHAS).fit(scaler.transform(values[kept]), target[kept], unit[kept] ** 2)
        left = (ridge.predict(scaler.transform(values)) - target) * unit
        kept = np.abs(left) < min(outlying, 4.0 * float(np.std(left[kept])))
    weights = ridge.coef_ / scaler.scale_
    return weights, float(ridge.intercept_ - weights @ scaler.mean_)


def _spread(left: FloatArray, unit: FloatArray, frame: FloatArray, kept: BoolArray) -> list[float]:
    """Parts of the spread that are fixed, grow with the movement's time and with the frame's."""
    parts = np.column_stack([np.ones_like(unit), unit**2, frame**2])[kept]
    scale = parts.mean(axis=0)
    shares, _ = nnls(parts / scale, left[kept] ** 2)
    return [round(float(np.sqrt(share / size)), 5) for share, size in zip(shares, scale, strict=True)]


def write(rules: list[dict[str, Any]], path: Path) -> None:
    """Write rules, one a line."""
    lines = ",\n".join(json.dumps(rule) for rule in rules)
    path.write_text(f'{{"rules": [\n{lines}\n]}}\n', encoding="utf-8")


if __name__ == "__main__":
    write(
        learn(GOLFERS, jobs=os.cpu_count() or 1),
        Path(service.analysis.events.__file__).parent / TABLE,
    )
