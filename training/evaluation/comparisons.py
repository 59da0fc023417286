"""How far comparisons can be trusted, on simulated pairs of swings.

``python -m training.evaluation.comparisons [pairs]`` prints one table a view: of every measure

* how often two clips of one swing show no detectable change, with fresh noise, at 30 and at
  120 frames a second, mirrored, and with the camera put up anew (which a comparison can't
  know of; told for information);
* the spread over repeats against the stated uncertainty, 1 when the latter is right;
* how often the direction is right, and how often a change is detected at all, where the true
  change exceeds the smallest detectable one. True values are those of the noiseless clip;

and of every fault how often two clips of one swing show no detectable change, and what is said
where the simulated amount of it went up or down by at least :data:`CLEAR_STEP`.
"""

from __future__ import annotations

import sys
from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass, fields, replace
from itertools import islice
from typing import Final

import numpy as np

from service.analysis.analyse import analyse_many
from service.analysis.faults import CATALOGUE
from service.analysis.judging.classifier import Classifier
from service.analysis.pose.points import swap_sides
from service.analysis.types import FloatArray, Handedness, SwingRecording, View
from service.lessons import Comparison, MeasureChange, Verdict, compare
from service.lessons.estimates import NORMAL_95
from training.evaluation.card import MODELS
from training.simulator import (
    Camera,
    EstimatorNoise,
    FaultAmounts,
    SwingMotion,
    film,
    random_camera,
    random_golfer,
    random_swing,
)

SAME: Final[tuple[str, ...]] = ("repeat", "30 / 120", "mirrored", "camera")
"""Ways in which two clips show the same swing."""
CHANGED: Final[str] = "changed"
_FPS: Final[float] = 120.0
_TRUE_FPS: Final[float] = 240.0
"""Frames a second of the clips that are compared, and of those without noise."""
_FAULT_SHARE: Final[float] = 0.25
_MOST: Final[float] = 1.5
"""Share of the faults that a swing has, and the largest amount of one."""
_MEDIAN_OF_NORMAL: Final[float] = 0.6745
"""Median size of a normal error, in standard deviations."""
CLEAR_STEP: Final[float] = 0.8
"""Change of a fault's simulated amount that a comparison should notice."""
_FAULT_HEADS: Final[tuple[str, ...]] = ("unchanged", "changed", "right", "missed", "wrong")


@dataclass(frozen=True)
class Trial:
    """One comparison of two clips.

    ``truths`` are the true changes of the measures, in their units, by name; ``steps`` the
    changes of the simulated amounts of the faults.
    """

    kind: str
    comparison: Comparison
    truths: dict[str, float]
    steps: dict[str, float]


@dataclass(frozen=True)
class MeasureTrial:
    """One measure in one comparison; ``truth`` is its true change."""

    measure: MeasureChange
    truth: float


def run_trials(
    pairs: int, view: View, seed: int = 0, kinds: Collection[str] = (*SAME, CHANGED)
) -> Iterator[Trial]:
    """Compare ``pairs`` pairs of swings of as many players in every way asked for, as the service
    with the models at hand compares them."""
    drawn = [
        _draw(np.random.default_rng((seed, k, *view.value.encode())), view, kinds)
        for k in range(pairs)
    ]
    clips = [clip for pair in drawn for clip in (pair.before, *pair.after.values())]
    analyses = iter(analyse_many(clips, Classifier.load(MODELS)))
    for pair in drawn:
        before = next(analyses)
        for kind, after in zip(pair.after, islice(analyses, len(pair.after)), strict=True):
            if not (before.swing_found and after.swing_found):
                continue
            yield Trial(
                kind,
                compare([before], [after]),
                pair.truths() if kind == CHANGED else {},
                _steps(*pair.amounts) if kind == CHANGED else {},
            )


@dataclass(frozen=True)
class _Pair:
    """A swing and another of one player, and the clips of them: of the first, and of either."""

    motions: tuple[SwingMotion, SwingMotion]
    amounts: tuple[FaultAmounts, FaultAmounts]
    camera: Camera
    before: SwingRecording
    after: dict[str, SwingRecording]

    def truths(self) -> dict[str, float]:
        """Changes of the measures between noiseless clips."""
        films = [film(motion, self.camera, _TRUE_FPS, tell=True) for motion in self.motions]
        first, second = analyse_many(films)
        changes = compare([first], [second]).measures
        return {c.name: c.change for c in changes if c.change is not None}


def _draw(rng: np.random.Generator, view: View, kinds: Collection[str]) -> _Pair:
    golfer, camera = random_golfer(rng), random_camera(rng, view)
    amounts = _random_amounts(rng), _random_amounts(rng)
    first, second = (random_swing(rng, golfer, a) for a in amounts)
    before = _seen(first, camera, rng)
    after = {kind: _again(kind, first, second, camera, rng) for kind in kinds}
    return _Pair((first, second), amounts, camera, before, after)


def _again(
    kind: str, first: SwingMotion, second: SwingMotion, camera: Camera, rng: np.random.Generator
) -> SwingRecording:
    """The second clip of a pair."""
    if kind == CHANGED:
        return _seen(second, camera, rng)
    if kind == "camera":
        return _seen(first, random_camera(rng, camera.view), rng)
    clip = _seen(first, camera, rng, fps=30.0 if kind == "30 / 120" else _FPS)
    return mirrored(clip) if kind == "mirrored" else clip


def by_measure(trials: Iterable[Trial]) -> dict[str, list[MeasureTrial]]:
    """Trials of each measure, those passed over in which it was not comparable."""
    sorted_out: dict[str, list[MeasureTrial]] = defaultdict(list)
    for trial in trials:
        for measure in trial.comparison.measures:
            if measure.verdict is not Verdict.NOT_COMPARABLE:
                truth = trial.truths.get(measure.name, float("nan"))
                sorted_out[measure.name].append(MeasureTrial(measure, truth))
    return sorted_out


def mirrored(recording: SwingRecording) -> SwingRecording:
    """The clip of the left-hander who is the player's mirror image."""
    other = {Handedness.RIGHT: Handedness.LEFT, Handedness.LEFT: Handedness.RIGHT, None: None}
    return replace(
        recording,
        points=swap_sides(recording.points) * np.array([-1.0, 1.0]),
        confidence=swap_sides(recording.confidence),
        handedness=other[recording.handedness],
    )


def share_unchanged(trials: list[MeasureTrial]) -> float:
    """Share of trials that show no detectable change."""
    return _mean([t.measure.verdict is Verdict.NO_DETECTABLE_CHANGE for t in trials])


def detectable(trials: list[MeasureTrial]) -> list[MeasureTrial]:
    """The trials in which the true change exceeds the smallest detectable one."""
    return [t for t in trials if abs(t.truth) > (t.measure.smallest_detectable or np.inf)]


def share_right(trials: list[MeasureTrial]) -> float:
    """Share of trials in which the change measured has the direction of the true one."""
    return _mean([t.truth * (t.measure.change or 0.0) > 0.0 for t in trials])


def spread_ratio(trials: list[MeasureTrial]) -> float:
    """Size of the changes seen over the size stated, of one swing seen twice.

    From the medians, which a few swings that went quite wrong do not move.
    """
    if not trials:
        return float("nan")
    shares = [abs(t.measure.change or 0.0) / (t.measure.smallest_detectable or 1.0) for t in trials]
    return float(np.median(shares)) * NORMAL_95 / _MEDIAN_OF_NORMAL


def _random_amounts(rng: np.random.Generator) -> FaultAmounts:
    names = [f.name for f in fields(FaultAmounts)]
    return FaultAmounts(
        **{n: float(rng.uniform(0.0, _MOST)) for n in names if rng.random() < _FAULT_SHARE}
    )


def _seen(
    motion: SwingMotion, camera: Camera, rng: np.random.Generator, fps: float = _FPS
) -> SwingRecording:
    return film(motion, camera, fps, noise=EstimatorNoise(), rng=rng, tell=True)


def _steps(before: FaultAmounts, after: FaultAmounts) -> dict[str, float]:
    return {f.name: getattr(after, f.name) - getattr(before, f.name) for f in fields(before)}


def _mean(hits: list[bool]) -> float:
    return float(np.mean(hits)) if hits else float("nan")


def _row(name: str, trials: dict[str, list[MeasureTrial]]) -> str:
    """One line of the table."""
    same: FloatArray = np.array([share_unchanged(trials[kind]) for kind in SAME])
    large = detectable(trials[CHANGED])
    told = 1.0 - share_unchanged(large)
    return (
        f"{name:32} {len(trials['repeat']):5d} "
        + " ".join(f"{share:8.1%}" for share in same)
        + f" {spread_ratio(trials['repeat']):6.2f} {len(large):6d} {share_right(large):7.1%}"
        + f" {told:8.1%}"
    )


def _fault_row(fault: str, trials: list[Trial]) -> str:
    """One line of the table of faults: what was said of it, in counts."""
    said: Counter[str] = Counter()
    for trial in trials:
        change = next(f for f in trial.comparison.faults if f.fault == fault)
        if change.verdict is Verdict.NOT_COMPARABLE:
            continue
        quiet = change.verdict is Verdict.NO_DETECTABLE_CHANGE
        if trial.kind == "repeat":
            said["unchanged" if quiet else "changed"] += 1
        elif abs(step := trial.steps.get(fault, 0.0)) >= CLEAR_STEP:
            expected = Verdict.WORSE if step > 0.0 else Verdict.BETTER
            said["missed" if quiet else "right" if change.verdict is expected else "wrong"] += 1
    return f"{fault:32} " + " ".join(f"{said[head]:9d}" for head in _FAULT_HEADS)


def _print_tables(pairs: int, view: View) -> None:
    trials = list(run_trials(pairs, view))
    sorted_out = {k: by_measure(t for t in trials if t.kind == k) for k in (*SAME, CHANGED)}
    print(f"\n{view.value}, {pairs} pairs")
    heads = " ".join(f"{kind:>8}" for kind in SAME)
    print(f"{'measure':32} {'n':>5} {heads} {'ratio':>6} {'large':>6} {'right':>7} {'detected':>8}")
    for name in sorted_out["repeat"]:
        print(_row(name, {k: measures[name] for k, measures in sorted_out.items()}))
    print(_row("all", {k: [t for m in of.values() for t in m] for k, of in sorted_out.items()}))
    print(f"\n{'fault':32} " + " ".join(f"{head:>9}" for head in _FAULT_HEADS))
    for definition in CATALOGUE.values():
        if view in definition.views:
            print(_fault_row(definition.name, trials))


if __name__ == "__main__":
    for each in View:
        _print_tables(int(sys.argv[1]) if len(sys.argv) > 1 else 200, each)
