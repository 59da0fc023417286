"""Data sets of simulated clips: features as the service takes them, truth from the joints.

Every golfer is drawn from a generator seeded by (seed, split, number) and filmed by
cameras of their own, so that no golfer and no camera is in two splits, and a data set does not
depend on how many processes made it.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, fields
from functools import partial
from itertools import chain
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray
from tqdm import tqdm

from service.analysis.faults import CATALOGUE
from service.analysis.judging.features import feature_vector
from service.analysis.judging.rules import judge_all, shows_most
from service.analysis.measured import MeasuredSwing, measure_swing
from service.analysis.pose.points import Point
from service.analysis.types import (
    BoolArray,
    FloatArray,
    Intent,
    SwingAnalysis,
    SwingRecording,
    View,
)
from training.data.draws import (
    PHONE_NOISE,
    PHONE_RATE,
    Footage,
    filmed,
    phone_footage,
    random_amounts,
    random_footage,
    random_intent,
    random_length,
)
from training.data.shifted import other_errors, other_swing, random_other_golfer
from training.data.truth import truth_of
from training.simulator import SwingMotion, random_golfer, random_swing
from training.simulator.keyed import KeyedSwing

FAULT_NAMES: Final[tuple[str, ...]] = tuple(CATALOGUE)
SPLITS: Final[tuple[str, ...]] = ("train", "calibration", "test", "shifted", "phone")
VIEWS: Final[tuple[View, ...]] = (View.FACE_ON, View.DOWN_THE_LINE)
RAW_STEPS: Final[int] = 24
_RAW_JOINTS: Final[list[Point]] = [
    *(p for p in Point if Point.LEAD_SHOULDER <= p <= Point.TRAIL_WRIST),
    *(p for p in Point if Point.LEAD_HIP <= p <= Point.TRAIL_HEEL),
    Point.CLUBHEAD,
]
_FEET: Final[tuple[str, ...]] = ("landmarks_33", "halpe_26", "coco_wholebody_133", "body_25")


@dataclass(frozen=True)
class Dataset:
    """Clips in which a swing was found, one row each.

    Attributes
    ----------
    features : array of shape (n, n_features), float32
        As :data:`service.analysis.judging.features.FEATURE_NAMES`.
    raw : array of shape (n, RAW_STEPS * n_joints * 2), float32
        Joints evenly in time, for the baseline that knows no positions.
    rule : array of shape (n, n_faults)
        Rule score; NaN where the service says not assessable.
    margin : array of shape (n, n_faults)
        Truth (:class:`training.data.truth.Truth`).
    shown, true_shown : arrays of shape (n, n_faults)
        Seconds at which the service would show the fault, whether or not it calls it present,
        and at which it truly shows most.
    positions, true_positions : arrays of shape (n, 10)
        Seconds of P1 to P10, NaN where not found or not reached.
    view : array of shape (n,)
        Index in :data:`VIEWS`, as filmed.
    golfer : array of shape (n,)
    clean : array of shape (n,)
        Whether no fault was put in.
    rehearsal, club, feet : arrays of shape (n,)
    rate, noise : arrays of shape (n,)
    missed : int
        Clips in which no swing or the wrong view was found.
    """

    features: NDArray[np.float32]
    raw: NDArray[np.float32]
    rule: FloatArray
    margin: FloatArray
    shown: FloatArray
    true_shown: FloatArray
    positions: FloatArray
    true_positions: FloatArray
    view: NDArray[np.int64]
    golfer: NDArray[np.int64]
    clean: BoolArray
    rehearsal: BoolArray
    club: BoolArray
    feet: BoolArray
    rate: FloatArray
    noise: FloatArray
    missed: int

    def __len__(self) -> int:
        return len(self.view)

    def rows(self, chosen: BoolArray) -> Dataset:
        """The rows for which a mask of shape (n,) is true."""
        kept = {f.name: getattr(self, f.name)[chosen] for f in fields(self) if f.name != "missed"}
        return Dataset(**kept, missed=self.missed)

    def joined(self, other: Dataset) -> Dataset:
        """These rows and those of another set."""
        both = {
            f.name: np.concatenate([getattr(self, f.name), getattr(other, f.name)])
            for f in fields(self)
            if f.name != "missed"
        }
        return Dataset(**both, missed=self.missed + other.missed)

    @property
    def phone(self) -> BoolArray:
        """Phone-grade rows (:func:`training.data.draws.phone_footage`)."""
        return (self.rate <= PHONE_RATE) & (self.noise >= PHONE_NOISE)

    @property
    def good(self) -> BoolArray:
        """Rows with club and feet at 60 frames a second or more and a fair estimator."""
        return self.club & self.feet & (self.rate >= 60.0) & (self.noise <= 0.3)

    def version(self) -> str:
        """Twelve hex digits that stand for the contents."""
        digest = hashlib.sha256()
        for array in (self.features, self.margin, self.true_positions):
            digest.update(np.ascontiguousarray(array).tobytes())
        return digest.hexdigest()[:12]


@dataclass(frozen=True)
class Clip:
    """One simulated clip and what is known about it."""

    motion: SwingMotion | KeyedSwing
    recording: SwingRecording
    start: float
    footage: Footage
    view: View
    clean: bool


def clips_of_golfer(seed: int, split: str, number: int) -> Iterator[Clip]:
    """Two swings of one golfer, each from both sides, every clip with footage of its own."""
    rng = np.random.default_rng([seed, SPLITS.index(split), number])
    elsewhere = split == "shifted"
    golfer = random_other_golfer(rng) if elsewhere else random_golfer(rng)
    for _ in range(2):
        intent, length = random_intent(rng), random_length(rng)
        co_occurrence, amounts = random_amounts(rng, intent)
        if elsewhere:
            motion = other_swing(rng, golfer, amounts, intent, length)
        else:
            motion = random_swing(rng, golfer, amounts, intent, length)
        for view in VIEWS:
            footage = phone_footage(rng) if split == "phone" else random_footage(rng)
            recording, start = filmed(motion, view, footage, rng)
            if elsewhere:
                recording = other_errors(recording, footage, rng)
            yield Clip(motion, recording, start, footage, view, co_occurrence == "clean")


def build(seed: int, split: str, golfers: int, jobs: int = 1, *, quiet: bool = False) -> Dataset:
    """Make a split; about four clips a golfer."""
    make = partial(_rows_of_golfer, seed, split)
    bar = partial(tqdm, total=golfers, desc=f"{split} golfers", disable=quiet)
    if jobs == 1:
        return _stack(list(chain.from_iterable(bar(map(make, range(golfers))))))
    with ProcessPoolExecutor(jobs) as pool:
        made = pool.map(make, range(golfers), chunksize=8)
        return _stack(list(chain.from_iterable(bar(made))))


def save(dataset: Dataset, path: Path) -> None:
    """Write a data set as a compressed ``.npz``."""
    path.parent.mkdir(parents=True, exist_ok=True)
    np.savez_compressed(path, **{f.name: getattr(dataset, f.name) for f in fields(dataset)})


def load(path: Path) -> Dataset:
    """Read what :func:`save` wrote."""
    with np.load(path) as kept:
        values = {name: kept[name] for name in kept.files if name != "missed"}
        return Dataset(**values, missed=int(kept["missed"]))


_Row = dict[str, object]


def _rows_of_golfer(seed: int, split: str, number: int) -> list[_Row | None]:
    return [_row(clip, number) for clip in clips_of_golfer(seed, split, number)]


def _row(clip: Clip, golfer: int) -> _Row | None:
    """One row, or ``None`` when the service finds no swing or takes the view for the other."""
    found = measure_swing(clip.recording)
    if isinstance(found, SwingAnalysis) or found.view.value is not clip.view:
        return None
    truth = truth_of(clip.motion, clip.view)
    rule, shown = _by_rules(found)
    return {
        "features": feature_vector(found),
        "raw": _raw_courses(found),
        "rule": rule,
        "margin": truth.margin,
        "shown": shown,
        "true_shown": truth.shows_most - clip.start,
        "positions": np.array([np.nan if p.time is None else p.time for p in found.positions]),
        "true_positions": clip.motion.position_times - clip.start,
        "view": VIEWS.index(clip.view),
        "golfer": golfer,
        "clean": clip.clean,
        "rehearsal": clip.motion.intent is Intent.REHEARSAL,
        "club": clip.footage.club,
        "feet": clip.footage.layout in _FEET,
        "rate": clip.footage.rate,
        "noise": clip.footage.noise.level,
    }


def _by_rules(swing: MeasuredSwing) -> tuple[FloatArray, FloatArray]:
    findings = judge_all(swing)
    rule = np.array([np.nan if f.score is None else f.score for f in findings])
    moments = [shows_most(d, swing) for d in CATALOGUE.values()]
    return rule, np.array([np.nan if m is None else m.time for m in moments])


def _raw_courses(found: MeasuredSwing) -> NDArray[np.float32]:
    """Joints evenly in time from the first to the last position, shape (RAW_STEPS * joints * 2,).

    Not aligned by position: what a plain time series would see.
    """
    times = found.normalized.times[0]
    known = np.flatnonzero(~np.isnan(times))
    if known.size == 0:
        return np.full(2 * len(_RAW_JOINTS) * RAW_STEPS, np.nan, dtype=np.float32)
    even = np.linspace(times[known[0]], times[known[-1]], RAW_STEPS)
    feet = found.normalized.poses[[Point.LEAD_ANKLE, Point.TRAIL_ANKLE], 0, known[0]].mean(axis=0)
    paths = found.normalized.poses[_RAW_JOINTS, 0] - feet
    courses = [
        np.interp(even, times[known], path[known, axis]) for path in paths for axis in (0, 1)
    ]
    return np.concatenate(courses).astype(np.float32)


def _stack(rows: list[_Row | None]) -> Dataset:
    kept = [row for row in rows if row is not None]
    columns = {name: np.array([row[name] for row in kept]) for name in kept[0]}
    return Dataset(**columns, missed=len(rows) - len(kept))
