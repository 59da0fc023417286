"""How one model and its calibration do on clips they have never seen."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Final

import numpy as np
from sklearn.metrics import log_loss

from service.analysis.judging.rules import USEFUL_CONFIDENCE
from service.analysis.types import BoolArray, FloatArray
from training.data.dataset import FAULT_NAMES, Dataset
from training.models.candidates import GREY, auroc
from training.models.fit import Expert, assessable

N_BINS: Final[int] = 10


@dataclass(frozen=True)
class Slice:
    """How rule, model and both tell a fault in some clips; ``present`` without the grey zone."""

    clips: int
    present: int
    absent: int
    grey: int
    rule: float
    model: float
    both: float


@dataclass(frozen=True)
class Report:
    """Everything measured about one fault in one view.

    ``log_loss`` is that of the chance told on the test clips, ``log_loss_rule`` that of the rule
    calibrated alone.
    """

    fault: str
    view: str
    kind: str
    calibration: dict[str, float]
    trials: dict[str, dict[str, float]]
    stacked: dict[str, float]
    log_loss: float
    log_loss_rule: float
    slices: dict[str, Slice]
    ece: float
    ece_clear: float
    reliability: list[tuple[float, float, int]]
    uncertain: float
    disagree: float
    confidence_agreeing: float
    confidence_disagreeing: float
    shown_median_ms: float
    shown_p90_ms: float
    served: str


def chances(expert: Expert, clips: Dataset) -> tuple[FloatArray, FloatArray]:
    """The model's own probability and that of rule and model together, each (n,)."""
    model = expert.probabilities(clips.features)
    rule = clips.rule[:, FAULT_NAMES.index(expert.fault)]
    return model, expert.calibration.chance(rule, model)


def calibration_error(
    chance: FloatArray, present: BoolArray
) -> tuple[float, list[tuple[float, float, int]]]:
    """Expected calibration error over ten even bins, and the bins: mean chance, share, count."""
    where = np.minimum((chance * N_BINS).astype(np.intp), N_BINS - 1)
    bins = [
        (
            float(chance[where == b].mean()),
            float(present[where == b].mean()),
            int((where == b).sum()),
        )
        for b in range(N_BINS)
        if (where == b).any()
    ]
    error = sum(n * abs(c - p) for c, p, n in bins) / len(chance)
    return float(error), bins


def report(expert: Expert, held_out: Mapping[str, Dataset]) -> Report:
    """Measure one expert; the phone-grade rows of ``test`` count with those of ``phone``."""
    k = FAULT_NAMES.index(expert.fault)
    test = held_out["test"]
    phone = test.rows(test.phone).joined(held_out["phone"])
    home, away, handheld = (
        assessable(d, expert.fault, expert.view) for d in (test, held_out["shifted"], phone)
    )
    model, both = chances(expert, home)
    margin, rule = home.margin[:, k], home.rule[:, k]
    error, bins = calibration_error(both, margin > 0.0)
    clear = np.abs(margin) >= GREY
    apart = (model > 0.5) != (rule > 0.5)
    sure = np.maximum(both, 1.0 - both)
    shown = frame_errors(expert, home, both)
    slices = {
        "all": _slice(rule, model, both, margin),
        "good": _slice(*(a[home.good] for a in (rule, model, both, margin))),
        "phone": _slice(handheld.rule[:, k], *chances(expert, handheld), handheld.margin[:, k]),
        "shifted": _slice(away.rule[:, k], *chances(expert, away), away.margin[:, k]),
    }
    rule_alone = expert.rule_alone.chance(rule, model)
    uses = {(False, True): "model", (True, False): "rules", (True, True): "both"}
    return Report(
        fault=expert.fault,
        view=expert.view.value,
        kind=expert.kind,
        calibration=asdict(expert.calibration),
        trials={n: asdict(s) for n, s in expert.trials.items()},
        stacked=expert.stacked,
        log_loss=float(log_loss(margin > 0.0, both, labels=[False, True])),
        log_loss_rule=float(log_loss(margin > 0.0, rule_alone, labels=[False, True])),
        slices=slices,
        ece=error,
        ece_clear=calibration_error(both[clear], margin[clear] > 0.0)[0],
        reliability=bins,
        uncertain=float((sure < USEFUL_CONFIDENCE).mean()),
        disagree=float(apart.mean()),
        confidence_agreeing=float(sure[~apart].mean()),
        confidence_disagreeing=float(sure[apart].mean()) if apart.any() else float("nan"),
        shown_median_ms=quantile(shown, 50),
        shown_p90_ms=quantile(shown, 90),
        served=uses.get((expert.calibration.rule > 0, expert.calibration.model > 0), "rules"),
    )


def _slice(rule: FloatArray, model: FloatArray, both: FloatArray, margin: FloatArray) -> Slice:
    clear = np.abs(margin) >= GREY
    return Slice(
        len(margin),
        int((margin[clear] > 0).sum()),
        int((margin[clear] < 0).sum()),
        int((~clear).sum()),
        *(auroc(margin, score) if len(margin) else float("nan") for score in (rule, model, both)),
    )


def frame_errors(expert: Expert, clips: Dataset, both: FloatArray) -> FloatArray:
    """Milliseconds by which the frame named is off where a fault is rightly called present."""
    k = FAULT_NAMES.index(expert.fault)
    right = (both >= USEFUL_CONFIDENCE) & (clips.margin[:, k] > 0.0)
    off = 1000.0 * np.abs(clips.shown[right, k] - clips.true_shown[right, k])
    return np.asarray(off[np.isfinite(off)])


def quantile(values: FloatArray, percent: float) -> float:
    """A percentile, NaN of nothing."""
    return float(np.percentile(values, percent)) if values.size else float("nan")
