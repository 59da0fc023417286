"""How far comparisons can be trusted, on simulated pairs of swings.

``python -m training.check_comparisons [pairs]`` prints one table a view: of every measure

* how often two clips of one swing show no detectable change, with fresh noise, at 30 and at
  120 frames a second, mirrored, and with the camera put up anew (which a comparison can't
  know of; told for information);
* the spread over repeats against the stated uncertainty, 1 when the latter is right;
* how often the direction is right, and how often a change is detected at all, where the true
  change exceeds the smallest detectable one. True values are those of the noiseless clip.
"""

from __future__ import annotations

import sys
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, fields, replace
from typing import Final

import numpy as np

from service.analysis.analyse import analyse
from service.analysis.points import swap_sides
from service.analysis.swing import FloatArray, Handedness, SwingRecording, View
from service.lessons import LessonSwing, MeasureChange, Verdict, compare
from service.lessons.estimates import NORMAL_95
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
_FAULT_SHARE: Final[float] = 0.25
_MOST: Final[float] = 1.5


@dataclass(frozen=True)
class Trial:
    """One measure in one comparison; ``truth`` is the true change in its unit."""

    kind: str
    view: View
    measure: MeasureChange
    truth: float


def run_trials(pairs: int, view: View, seed: int = 0) -> Iterator[Trial]:
    """Compare ``pairs`` pairs of swings of as many players in every way, measure by measure.

    Measures that were not comparable are passed over.
    """
    for index in range(pairs):
        rng = np.random.default_rng((seed, index, *view.value.encode()))
        golfer, camera = random_golfer(rng), random_camera(rng, view)
        first, second = (random_swing(rng, golfer, _random_amounts(rng)) for _ in range(2))
        true = _true_values(first, camera), _true_values(second, camera)
        before = _seen(first, camera, rng)
        clips = {
            "repeat": (before, _seen(first, camera, rng)),
            "30 / 120": (before, _seen(first, camera, rng, fps=30.0)),
            "mirrored": (before, mirrored(_seen(first, camera, rng))),
            "camera": (before, _seen(first, random_camera(rng, view), rng)),
            CHANGED: (before, _seen(second, camera, rng)),
        }
        for kind, clip_pair in clips.items():
            sides = [LessonSwing(analyse(clip)) for clip in clip_pair]
            if not all(s.analysis.swing_found for s in sides):
                continue
            for change in compare(sides[:1], sides[1:]).measures:
                truth = true[1].get(change.name, np.nan) - true[0].get(change.name, np.nan)
                if change.verdict is not Verdict.NOT_COMPARABLE:
                    yield Trial(kind, view, change, truth if kind == CHANGED else 0.0)


def mirrored(recording: SwingRecording) -> SwingRecording:
    """The clip of the left-hander who is the player's mirror image."""
    other = {Handedness.RIGHT: Handedness.LEFT, Handedness.LEFT: Handedness.RIGHT, None: None}
    return replace(
        recording,
        points=swap_sides(recording.points) * np.array([-1.0, 1.0]),
        confidence=swap_sides(recording.confidence),
        handedness=other[recording.handedness],
    )


def share_unchanged(trials: list[Trial]) -> float:
    """Share of trials that show no detectable change."""
    return _mean([t.measure.verdict is Verdict.NO_DETECTABLE_CHANGE for t in trials])


def detectable(trials: list[Trial]) -> list[Trial]:
    """The trials in which the true change exceeds the smallest detectable one."""
    return [t for t in trials if abs(t.truth) > (t.measure.smallest_detectable or np.inf)]


def share_right(trials: list[Trial]) -> float:
    """Share of trials in which the change measured has the direction of the true one."""
    return _mean([t.truth * (t.measure.change or 0.0) > 0.0 for t in trials])


def spread_ratio(trials: list[Trial]) -> float:
    """Root mean square of the changes seen over that stated, of one swing seen twice."""
    changes = np.array([t.measure.change for t in trials], dtype=float)
    stated = np.array([t.measure.smallest_detectable for t in trials], dtype=float) / NORMAL_95
    return float(np.sqrt(np.mean(changes**2) / np.mean(stated**2))) if trials else float("nan")


def _random_amounts(rng: np.random.Generator) -> FaultAmounts:
    names = [f.name for f in fields(FaultAmounts)]
    return FaultAmounts(
        **{n: float(rng.uniform(0.0, _MOST)) for n in names if rng.random() < _FAULT_SHARE}
    )


def _seen(
    motion: SwingMotion, camera: Camera, rng: np.random.Generator, fps: float = _FPS
) -> SwingRecording:
    return film(motion, camera, fps, noise=EstimatorNoise(), rng=rng, tell=True)


def _true_values(motion: SwingMotion, camera: Camera) -> dict[str, float]:
    clean = analyse(film(motion, camera, _TRUE_FPS, tell=True))
    return {m.name: m.value for m in clean.measures if m.value is not None}


def _mean(hits: list[bool]) -> float:
    return float(np.mean(hits)) if hits else float("nan")


def _row(name: str, trials: dict[str, list[Trial]]) -> str:
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


def _print_table(pairs: int, view: View) -> None:
    by_measure: dict[str, dict[str, list[Trial]]] = defaultdict(lambda: defaultdict(list))
    for trial in run_trials(pairs, view):
        for name in (trial.measure.name, "all"):
            by_measure[name][trial.kind].append(trial)
    print(f"\n{view.value}, {pairs} pairs")
    heads = " ".join(f"{kind:>8}" for kind in SAME)
    print(f"{'measure':32} {'n':>5} {heads} {'ratio':>6} {'large':>6} {'right':>7} {'detected':>8}")
    for name, trials in by_measure.items():
        print(_row(name, trials))


if __name__ == "__main__":
    for each in View:
        _print_table(int(sys.argv[1]) if len(sys.argv) > 1 else 200, each)
