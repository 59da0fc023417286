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
from sklearn.linear_model import RidgeCV
from sklearn.preprocessing import StandardScaler
from tqdm import tqdm

import service.analysis.events.positions
from service.analysis.events.landmark_paths import follow
from service.analysis.events.positions import club_seen, find_positions, position_marks, to_refine
from service.analysis.events.positions.marks import Marks
from service.analysis.events.positions.refinement import REFINED, TABLE, Case, case_of
from service.analysis.measured import measure_swing
from service.analysis.types import BoolArray, FloatArray, Intent, SwingAnalysis
from training.data.sources import Clip, clips_of

SEED: Final[int] = 5
GOLFERS: Final[int] = 600
"""Golfers of each make."""
MAKES: Final[tuple[str, ...]] = ("joint angles", "shifted", "retimed", "keyed")
"""Makes of golfers that the rules are learnt from."""
_ALPHAS: Final[FloatArray] = np.logspace(-1, 4, 11)
FEWEST: Final[int] = 150
"""Clips of a case below which no rule is learnt."""
_OUTLYING: Final[Mapping[Intent, float]] = {Intent.FULL_SPEED: 0.15, Intent.REHEARSAL: 0.45}
"""Seconds; a clip that is off by more was misread, and tells nothing of the rule."""


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
    return rules_from(lessons(golfers, seed, jobs, makes, quiet=quiet), fewest)


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


def rules_from(lessons: Iterable[Lesson], fewest: int = FEWEST) -> list[dict[str, Any]]:
    """Rules from lessons, one for every case that has enough of them."""
    by_case: dict[Case, list[Lesson]] = defaultdict(list)
    for lesson in lessons:
        by_case[lesson.case].append(lesson)
    return [_rule(case, some) for case, some in sorted(by_case.items()) if len(some) >= fewest]


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
            case = case_of(number, clip.view, marks, club=club_seen(found.poses))
            yield Lesson(case, make, clip.motion.intent, marks, float(truth[number - 1]))


def _rule(case: Case, lessons: list[Lesson]) -> dict[str, Any]:
    """One rule, and the spread of what it leaves on makes that it was not learnt from."""
    seen = _examples(lessons)
    weights, intercept = _fitted(seen)
    left = np.zeros(len(lessons))
    for make in np.unique(seen.make):
        own = seen.make == make
        if not own.all():
            w, b = _fitted(seen.rows(~own))
            left[own] = (seen.values[own] @ w + b - seen.target[own]) * seen.unit[own]
    return {
        "position": case.number,
        "view": case.view.value,
        "club": case.club,
        "few_frames": case.few_frames,
        "intercept": round(intercept, 6),
        "spread": _spread(left, seen),
        "weights": [round(float(w), 6) for w in weights],
        "usual": [round(float(u), 5) for u in seen.usual],
    }


@dataclass(frozen=True)
class _Examples:
    """Marks of shape (n, n_marks) with the missing ones filled, what they should tell in their
    own unit of time, and how long (seconds) an error is outlying and worth as much as another."""

    values: FloatArray
    usual: FloatArray
    unit: FloatArray
    frame: FloatArray
    target: FloatArray
    make: NDArray[np.str_]
    outlying: FloatArray

    def rows(self, chosen: BoolArray) -> _Examples:
        """The rows for which a mask of shape (n,) is true."""
        kept = {f.name: getattr(self, f.name) for f in fields(self)}
        return _Examples(**{k: v if k == "usual" else v[chosen] for k, v in kept.items()})


def _examples(lessons: list[Lesson]) -> _Examples:
    values = np.array([x.marks.values for x in lessons])
    usual = np.nanmedian(np.where(np.isnan(values).all(axis=0), 0.0, values), axis=0)
    return _Examples(
        values=np.where(np.isnan(values), usual, values),
        usual=usual,
        unit=np.array([x.marks.unit for x in lessons]),
        frame=np.array([x.marks.frame for x in lessons]),
        target=np.array([(x.truth - x.marks.reference) / x.marks.unit for x in lessons]),
        make=np.array([x.make for x in lessons]),
        outlying=np.array([_OUTLYING[x.intent] for x in lessons]),
    )


def _fitted(seen: _Examples) -> tuple[FloatArray, float]:
    """Ridge regression on standardised marks, folded back into their own units."""
    # An error counts in seconds, and in a slow swing less.
    worth = seen.unit / seen.outlying
    kept = np.abs(seen.target - np.median(seen.target)) * worth < 3.0
    for _ in range(3):
        scaler = StandardScaler().fit(seen.values[kept])
        ridge = RidgeCV(_ALPHAS).fit(
            scaler.transform(seen.values[kept]), seen.target[kept], worth[kept] ** 2
        )
        left = np.abs(ridge.predict(scaler.transform(seen.values)) - seen.target) * worth
        kept = left < min(1.0, 4.0 * float(np.sqrt(np.mean(left[kept] ** 2))))
    weights = ridge.coef_ / scaler.scale_
    return weights, float(ridge.intercept_ - weights @ scaler.mean_)


def _spread(left: FloatArray, seen: _Examples) -> list[float]:
    """Parts of the spread that are fixed, grow with the movement's time and with the frame's."""
    kept = np.abs(left) < seen.outlying
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
