"""Learn where positions lie from what is well seen about them.

``python -m training.models.fit_positions`` writes the rules of
:mod:`service.analysis.events.positions.refinement`. The golfers it learns from are in none of
the other splits. They are of several makes; the uncertainty of every rule is what is left over on
each make by a rule learnt from the others.
"""

from __future__ import annotations

import argparse
import json
import os
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, fields
from functools import partial
from itertools import chain
from pathlib import Path
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import nnls
from sklearn.ensemble import HistGradientBoostingRegressor
from tqdm import tqdm

import service.analysis.events.positions
from service.analysis.events.landmark_paths import follow
from service.analysis.events.positions import club_seen, find_positions, position_marks, to_refine
from service.analysis.events.positions.marks import Marks
from service.analysis.events.positions.refinement import REFINED, TABLE, Case
from service.analysis.measured import measure_swing
from service.analysis.types import BoolArray, FloatArray, Intent, SwingAnalysis
from training.data.sources import Clip, clips_of
from training.models.flat_trees import flat

SEED: Final[int] = 5
GOLFERS: Final[int] = 600
"""Golfers of each make."""
MAKES: Final[tuple[str, ...]] = ("joint angles", "shifted", "retimed", "keyed")
"""Makes of golfers that the rules are learnt from."""
FEWEST: Final[int] = 150
"""Clips of a case below which no rule is learnt."""
_ALLOWED: Final[Mapping[Intent, float]] = {Intent.FULL_SPEED: 0.033, Intent.REHEARSAL: 0.10}
"""Seconds by which a position may be off; an error counts by how many of these it is."""
_MISREAD: Final[float] = 12.0
"""Such errors from the usual place; a clip that is off by more was misread, and tells nothing."""
_OUTLYING: Final[float] = 4.5
"""Such errors that a rule leaves; beyond, a clip was misread and tells nothing of the spread."""
_DEPTH: Final[int] = 4
_TREES: Final[Mapping[str, Any]] = {
    "loss": "absolute_error",
    "max_iter": 80,
    "learning_rate": 0.1,
    "max_depth": _DEPTH,
    "max_leaf_nodes": None,
    "min_samples_leaf": 15,
    "l2_regularization": 5.0,
    "max_features": 0.5,
    "random_state": 1,
}
"""Of what was tried the least that did as well as any on makes left out."""
_DIGITS: Final[int] = 4


class Lesson(NamedTuple):
    """What was seen about a position of one clip, and when it truly was (seconds)."""

    case: Case
    make: str
    intent: Intent
    marks: Marks
    truth: float


def learn(
    golfers: int,
    seed: int = SEED,
    jobs: int = 1,
    makes: Sequence[str] = MAKES,
    *,
    fewest: int = FEWEST,
    quiet: bool = False,
) -> list[dict[str, Any]]:
    """Rules for every position, view and kind of footage, from so many golfers of each make."""
    return rules_from(lessons(golfers, seed, jobs, makes, quiet=quiet), fewest, jobs)


def lessons(
    golfers: int,
    seed: int = SEED,
    jobs: int = 1,
    makes: Sequence[str] = MAKES,
    *,
    quiet: bool = False,
) -> list[Lesson]:
    """What so many golfers of each make teach."""
    numbers = [(make, n) for n in range(golfers) for make in makes]
    teach = partial(_lessons_of_golfer, seed)
    bar = partial(tqdm, total=len(numbers), desc="positions golfers", disable=quiet)
    if jobs == 1:
        return list(chain.from_iterable(bar(map(teach, numbers))))
    with ProcessPoolExecutor(jobs) as pool:
        return list(chain.from_iterable(bar(pool.map(teach, numbers, chunksize=8))))


def rules_from(
    lessons: Iterable[Lesson], fewest: int = FEWEST, jobs: int = 1
) -> list[dict[str, Any]]:
    """Rules from lessons, one for every case that has enough of them."""
    by_case: dict[Case, list[Lesson]] = defaultdict(list)
    for lesson in lessons:
        by_case[lesson.case].append(lesson)
    enough = [(case, some) for case, some in sorted(by_case.items()) if len(some) >= fewest]
    if jobs == 1:
        return [_rule(case, some) for case, some in enough]
    with ProcessPoolExecutor(jobs) as pool:
        return list(pool.map(_rule, *zip(*enough, strict=True)))


def _lessons_of_golfer(seed: int, golfer: tuple[str, int]) -> list[Lesson]:
    make, number = golfer
    return [x for clip in clips_of(make, "train", seed, number) for x in lessons_of(clip, make)]


def lessons_of(clip: Clip, make: str) -> Iterator[Lesson]:
    """What one clip teaches; nothing where the service finds no swing or the other view."""
    found = measure_swing(clip.recording)
    if isinstance(found, SwingAnalysis) or found.view.value is not clip.view:
        return
    tracks = follow(found.poses, found.times)
    about = (found.poses, tracks, found.downswing, clip.view, found.point_error)
    rough = find_positions(*about, refined=False)
    times = {p.number: p.time for p in rough if p.time is not None}
    truth = clip.motion.position_times - clip.start
    for number in REFINED:
        if not (to_refine(rough[number - 1]) and np.isfinite(truth[number - 1])):
            continue
        marks = position_marks(number, *about, times)
        if marks is not None:
            case = Case(number, clip.view, club_seen(found.poses))
            yield Lesson(case, make, clip.motion.intent, marks, float(truth[number - 1]))


def _rule(case: Case, lessons: list[Lesson]) -> dict[str, Any]:
    """One rule, and the spread of what it leaves on makes that it was not learnt from."""
    seen = _examples(lessons)
    left = np.zeros(len(lessons))
    for make in np.unique(seen.make):
        own = seen.make == make
        if not own.all():
            told = _fitted(seen.rows(~own)).predict(seen.values[own])
            left[own] = (told - seen.target[own]) * seen.unit[own]
    rule = flat(_fitted(seen), _DEPTH)
    return {
        "position": case.number,
        "view": case.view.value,
        "club": case.club,
        "spread": _spread(left, seen),
        "n_marks": rule.n_marks,
        "base": _rounded(rule.base),
        "mark": rule.mark.tolist(),
        "level": _rounded(rule.level),
        "leaf": _rounded(rule.leaf),
    }


def _rounded(values: Any) -> Any:
    """Numbers with as many digits as count, in lists of the shape of an array."""
    if np.ndim(values):
        return [_rounded(each) for each in values]
    return float(f"{float(values):.{_DIGITS}g}")


@dataclass(frozen=True)
class _Examples:
    """Marks of shape (n, n_marks), what they should tell in their own unit of time, and how long
    (seconds) an error may be."""

    values: FloatArray
    unit: FloatArray
    frame: FloatArray
    target: FloatArray
    make: NDArray[np.str_]
    allowed: FloatArray

    def rows(self, chosen: BoolArray) -> _Examples:
        """The rows for which a mask of shape (n,) is true."""
        return _Examples(**{f.name: getattr(self, f.name)[chosen] for f in fields(self)})


def _examples(lessons: list[Lesson]) -> _Examples:
    return _Examples(
        values=np.array([x.marks.values for x in lessons]),
        unit=np.array([x.marks.unit for x in lessons]),
        frame=np.array([x.marks.frame for x in lessons]),
        target=np.array([(x.truth - x.marks.reference) / x.marks.unit for x in lessons]),
        make=np.array([x.make for x in lessons]),
        allowed=np.array([_ALLOWED[x.intent] for x in lessons]),
    )


def _fitted(seen: _Examples) -> HistGradientBoostingRegressor:
    worth = seen.unit / seen.allowed
    kept = np.abs(seen.target - np.median(seen.target)) * worth < _MISREAD
    values = seen.values[kept]
    values[:, np.isnan(values).all(axis=0)] = 0.0  # what nobody shows tells nothing
    trees = HistGradientBoostingRegressor(**_TREES)
    return trees.fit(values, seen.target[kept], worth[kept])


def _spread(left: FloatArray, seen: _Examples) -> list[float]:
    """Parts of the spread that are fixed, grow with the movement's time and with the frame's."""
    kept = np.abs(left) < _OUTLYING * seen.allowed
    parts = np.column_stack([np.ones_like(left), seen.unit**2, seen.frame**2])[kept]
    scale = parts.mean(axis=0)
    # What is left in slow swings is larger and would drown the rest.
    worth = 1.0 / (parts / scale).mean(axis=1)
    shares, _ = nnls(parts / scale * worth[:, None], left[kept] ** 2 * worth)
    told = parts @ (shares / scale)
    off = left[kept] ** 2 / np.maximum(told, 1e-9)
    # As wide as the make on which the others' rule does worst needs.
    worst = max(1.0, *(float(off[seen.make[kept] == make].mean()) for make in set(seen.make[kept])))
    return [
        round(float(np.sqrt(worst * share / size)), 5)
        for share, size in zip(shares, scale, strict=True)
    ]


def write(rules: list[dict[str, Any]], path: Path) -> None:
    """Write rules, one a line."""
    lines = ",\n".join(json.dumps(rule) for rule in rules)
    path.write_text(f'{{"rules": [\n{lines}\n]}}\n', encoding="utf-8")


def main() -> None:
    """Learn from every make, or all but one to see how the rules do on the make left out."""
    parser = argparse.ArgumentParser(description=main.__doc__)
    parser.add_argument("--without", choices=sorted(MAKES), help="the make to leave out")
    parser.add_argument("--golfers", type=int, default=GOLFERS, help="of each make")
    parser.add_argument(
        "--out", type=Path, default=Path(service.analysis.events.positions.__file__).parent / TABLE
    )
    asked = parser.parse_args()
    makes = [make for make in MAKES if make != asked.without]
    write(learn(asked.golfers, jobs=os.cpu_count() or 1, makes=makes), asked.out)


if __name__ == "__main__":
    main()
