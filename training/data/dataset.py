"""Data sets of simulated clips: features as the service takes them, truth from the joints.

Every golfer is drawn from a generator seeded by (seed, split, source, number) and filmed by cameras
of their own, so that no golfer and no camera is in two splits, and a data set does not depend on
how many processes made it.

Positions are placed by a network that was not taught the golfer's make: the one that is served
places players of makes that it was taught better than any others, and what is learnt from those is
too sure of all that hangs on times. Of golfers built on key positions two tempos in three are
within 0.15 by the one and within 0.39 by the other.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields, replace
from functools import partial
from itertools import chain
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.analysis.events.positions.network import using_network
from service.analysis.faults import CATALOGUE
from service.analysis.judging.estimates import widened
from service.analysis.judging.features import JUDGED, feature_vector
from service.analysis.judging.rules import judge_all
from service.analysis.measured import MeasuredSwing, measure_swing
from service.analysis.measures.definition import Measure, MeasuredValue
from service.analysis.types import BoolArray, FloatArray, Intent, Status, SwingAnalysis, View
from training.data.rows import Rows
from training.data.sources import Clip, clips_of
from training.data.truth import truth_of
from training.processes import spread_over

FAULT_NAMES: Final[tuple[str, ...]] = tuple(CATALOGUE)
VIEWS: Final[tuple[View, ...]] = (View.FACE_ON, View.DOWN_THE_LINE)
_PLACE: Final[dict[str, int]] = {measure.name: k for k, measure in enumerate(JUDGED)}


@dataclass(frozen=True)
class Dataset:
    """Clips in which a swing was found, one row each.

    Attributes
    ----------
    features : array of shape (n, n_features), float32
        As :data:`service.analysis.judging.features.FEATURE_NAMES`.
    value, uncertainty, truth : arrays of shape (n, n_measures)
        Of the measures :data:`service.analysis.judging.features.JUDGED`; NaN where missing.
    shown : boolean array of shape (n, n_faults)
        Whether the service would judge the fault if it had measured without error: the footage
        shows it, be it too vaguely to judge.
    margin : array of shape (n, n_faults)
        Truth (:class:`training.data.truth.Truth`).
    positions, true_positions : arrays of shape (n, 10)
        Seconds of P1 to P10, NaN where not found or not reached.
    view, source : arrays of shape (n,)
        Index in :data:`VIEWS`, as filmed, and in ``sources``.
    golfer : array of shape (n,)
    clean, rehearsal, club, estimated : boolean arrays of shape (n,)
        Whether no fault was put in, it was a rehearsal, the club was seen, the points err as a real
        estimator's do.
    rate, noise : arrays of shape (n,)
    sources : names of the sources
    missed : int
        Clips in which no swing or the wrong view was found.
    """

    features: NDArray[np.float32]
    value: FloatArray
    uncertainty: FloatArray
    truth: FloatArray
    shown: BoolArray
    margin: FloatArray
    positions: FloatArray
    true_positions: FloatArray
    view: NDArray[np.int64]
    source: NDArray[np.int64]
    golfer: NDArray[np.int64]
    clean: BoolArray
    rehearsal: BoolArray
    club: BoolArray
    estimated: BoolArray
    rate: FloatArray
    noise: FloatArray
    sources: tuple[str, ...]
    missed: int

    def __len__(self) -> int:
        return len(self.view)

    def only(self, chosen: BoolArray) -> Dataset:
        """The rows for which a mask of shape (n,) is true."""
        kept = {f.name: getattr(self, f.name)[chosen] for f in fields(self) if f.name not in _WHOLE}
        return replace(self, **kept)

    def of_view(self, view: View) -> BoolArray:
        """Which rows were filmed from a view, shape (n,)."""
        return np.asarray(self.view == VIEWS.index(view))

    @staticmethod
    def fault_index(fault: str) -> int:
        """Column of a fault."""
        return FAULT_NAMES.index(fault)

    def value_of(self, measure: Measure) -> tuple[FloatArray, FloatArray]:
        """A measure's values and uncertainties, arrays of shape (n,), NaN where missing."""
        k = _PLACE[measure.name]
        return self.value[:, k], self.uncertainty[:, k]

    def rows_of(self, measure: Measure, view: View) -> tuple[Rows, NDArray[np.intp]]:
        """Clips of a view in which a measure was taken and its truth is known, and their places."""
        k = _PLACE[measure.name]
        known = np.isfinite(self.value[:, k]) & np.isfinite(self.truth[:, k])
        places = np.flatnonzero(known & self.of_view(view))
        value, spread, truth = (a[places, k] for a in (self.value, self.uncertainty, self.truth))
        kinds = self.source[places], self.estimated[places]
        return Rows(self.features[places], value, spread, truth, *kinds), places

    def copy_of_values(self) -> Dataset:
        """The same with values and uncertainties that may be replaced by :meth:`put`."""
        return replace(self, value=self.value.copy(), uncertainty=self.uncertainty.copy())

    def put(
        self, measure: Measure, places: NDArray[np.intp], value: FloatArray, spread: FloatArray
    ) -> None:
        """Replace some of a measure's values and uncertainties."""
        self.value[places, _PLACE[measure.name]] = value
        self.uncertainty[places, _PLACE[measure.name]] = spread

    def version(self) -> str:
        """Twelve hex digits that stand for the contents."""
        digest = hashlib.sha256()
        for array in (self.features, self.margin, self.true_positions):
            digest.update(np.ascontiguousarray(array).tobytes())
        return digest.hexdigest()[:12]


_WHOLE: Final[tuple[str, ...]] = ("sources", "missed")
"""Members that belong to the set and not to a row."""


def build(
    seed: int,
    split: str,
    golfers: Mapping[str, int],
    placed_by: Callable[[str], Path],
    jobs: int = 1,
) -> Dataset:
    """Make a split from so many golfers of each source; about four clips a golfer.

    Parameters
    ----------
    placed_by : the network that places the positions of a source's golfers, by its name
    """
    names = tuple(golfers)
    work = [(source, number) for source in names for number in range(golfers[source])]
    make = partial(_rows_of_golfer, seed, split, names, placed_by)
    made = spread_over(jobs, make, work, f"{split} golfers")
    return _stack(list(chain.from_iterable(made)), names)


def save(dataset: Dataset, path: Path) -> None:
    """Write a data set as a compressed ``.npz``."""
    path.parent.mkdir(parents=True, exist_ok=True)
    np.savez_compressed(path, **{f.name: getattr(dataset, f.name) for f in fields(dataset)})


def load(path: Path) -> Dataset:
    """Read what :func:`save` wrote."""
    with np.load(path) as kept:
        values = {name: kept[name] for name in kept.files if name not in _WHOLE}
        sources = tuple(str(name) for name in kept["sources"])
        return Dataset(**values, sources=sources, missed=int(kept["missed"]))


_Row = dict[str, object]


def _rows_of_golfer(
    seed: int,
    split: str,
    names: tuple[str, ...],
    placed_by: Callable[[str], Path],
    work: tuple[str, int],
) -> list[_Row | None]:
    source, number = work
    clips = clips_of(source, split, seed, number)
    with using_network(placed_by(source)):
        return [_row(clip, names.index(source), number) for clip in clips]


def _row(clip: Clip, source: int, golfer: int) -> _Row | None:
    """One row, or ``None`` when the service finds no swing or takes the view for the other."""
    swing = measure_swing(clip.recording)
    if isinstance(swing, SwingAnalysis) or swing.view.value is not clip.view:
        return None
    truth = truth_of(clip.motion, clip.view)
    value, uncertainty = _measured(swing)
    sure = widened(swing, 0.0)
    return {
        "features": feature_vector(swing),
        "value": value,
        "uncertainty": uncertainty,
        "truth": truth.values,
        "shown": [f.status is not Status.NOT_ASSESSABLE for f in judge_all((sure,))[0]],
        "margin": truth.margin,
        "positions": [np.nan if p.time is None else p.time for p in swing.positions],
        "true_positions": clip.motion.position_times - clip.start,
        "view": VIEWS.index(clip.view),
        "source": source,
        "golfer": golfer,
        "clean": clip.clean,
        "rehearsal": clip.motion.intent is Intent.REHEARSAL,
        "club": clip.footage.club,
        "estimated": clip.footage.noise.measured > 0.0,
        "rate": clip.footage.rate,
        "noise": clip.footage.noise.level,
    }


def _measured(swing: MeasuredSwing) -> tuple[FloatArray, FloatArray]:
    pairs = [
        (found.value, found.uncertainty)
        if isinstance(found := swing.values[m.name], MeasuredValue)
        else (np.nan, np.nan)
        for m in JUDGED
    ]
    values = np.array(pairs)
    return values[:, 0], values[:, 1]


def _stack(rows: list[_Row | None], names: tuple[str, ...]) -> Dataset:
    kept = [row for row in rows if row is not None]
    columns = {name: np.array([row[name] for row in kept]) for name in kept[0]}
    return Dataset(**columns, sources=names, missed=len(rows) - len(kept))
