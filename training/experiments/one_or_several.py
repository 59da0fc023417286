"""One model that knows what is missing, or several? Told by golfers left out."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from tqdm import tqdm

from service.analysis.faults import CATALOGUE
from service.analysis.types import BoolArray, FloatArray
from training.data.dataset import FAULT_NAMES, VIEWS, Dataset
from training.models.candidates import CANDIDATES, auroc, judge, out_of_fold
from training.models.fit import Expert, assessable, columns_of

_LEAST_ROWS: Final[int] = 200
_LEAST_SIDE: Final[int] = 20
_LEAST_SEEN: Final[float] = 0.05


def compare(experts: list[Expert], train: Dataset, *, quiet: bool = False) -> list[dict[str, Any]]:
    """For each expert the log loss on some clips of one fitted on all and one on those alone.

    Clips are split by whether they show a club and whether they show feet; for faults seen
    from both sides, also a model of both views is held against one of each view.
    """
    rows = []
    for expert in tqdm(experts, desc="one or several", disable=quiet):
        clips = assessable(train, expert.fault, expert.view)
        margin = clips.margin[:, FAULT_NAMES.index(expert.fault)]
        features = np.clip(clips.features[:, expert.columns], expert.low, expert.high)
        together = out_of_fold(expert.candidate, features, margin, clips.golfer)
        for what, part in _parts(clips).items():
            if not _enough(part, margin):
                continue
            seen = np.isfinite(features[part]).mean(axis=0) >= _LEAST_SEEN
            alone = out_of_fold(
                expert.candidate, features[:, seen], margin, clips.golfer, only=part
            )
            rows.append(_row(expert, what, margin[part], together[part], alone[part]))
    return rows + [r for fault in _seen_from_both() for r in _views(fault, experts, train)]


def _parts(clips: Dataset) -> dict[str, BoolArray]:
    return {
        "with club": clips.club,
        "without club": ~clips.club,
        "with feet": clips.feet,
        "without feet": ~clips.feet,
    }


def _enough(part: BoolArray, margin: FloatArray) -> bool:
    present = margin[part] > 0.0
    fewest = min(present.sum(), (~present).sum())
    return bool(_LEAST_ROWS <= part.sum() < len(part) and fewest >= _LEAST_SIDE)


def _row(
    expert: Expert, what: str, margin: FloatArray, together: FloatArray, alone: FloatArray
) -> dict[str, Any]:
    one, several = judge(together, margin), judge(alone, margin)
    return {
        "fault": expert.fault,
        "view": expert.view.value,
        "clips": what,
        "n": len(margin),
        "one_log_loss": one.log_loss,
        "several_log_loss": several.log_loss,
        "one_auroc": auroc(margin, together),
        "several_auroc": auroc(margin, alone),
    }


def _seen_from_both() -> list[str]:
    return [d.name for d in CATALOGUE.values() if len(d.views) > 1]


def _views(fault: str, experts: list[Expert], train: Dataset) -> list[dict[str, Any]]:
    """A model of both views held against those of one view."""
    definition = CATALOGUE[fault]
    own = {e.view: e for e in experts if e.fault == fault}
    parts = {view: assessable(train, fault, view) for view in own}
    columns = np.union1d(*(columns_of(definition, view) for view in own))
    stacked = np.concatenate(
        [_with_view(parts[v].features[:, columns], VIEWS.index(v)) for v in own]
    )
    k = FAULT_NAMES.index(fault)
    margin = np.concatenate([parts[v].margin[:, k] for v in own])
    golfers = np.concatenate([parts[v].golfer for v in own])
    kind = next(c for c in CANDIDATES if c.name == next(iter(own.values())).kind)
    together = out_of_fold(kind, stacked, margin, golfers)
    rows, start = [], 0
    for view, expert in own.items():
        part = slice(start, start + len(parts[view]))
        start += len(parts[view])
        alone = out_of_fold(
            expert.candidate,
            parts[view].features[:, expert.columns],
            margin[part],
            golfers[part],
        )
        rows.append(_row(expert, "both views", margin[part], together[part], alone))
    return rows


def _with_view(features: NDArray[np.float32], view: int) -> NDArray[np.float32]:
    return np.column_stack([features, np.full(len(features), view, dtype=np.float32)])
