"""What the models must show, on golfers and cameras they have never seen.

``python -m training.evaluate`` prints the table from the data sets and models that
``python -m training.build`` left.
"""

from __future__ import annotations

import json
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Final

import joblib
import numpy as np

from service.analysis.analyse import analyse
from service.analysis.classifier import Classifier
from service.analysis.findings import USEFUL_CONFIDENCE
from service.analysis.opinion import Stack, all_log_odds
from service.analysis.swing import BoolArray, FloatArray, Status, View
from training.candidates import GREY, auroc, sigmoid
from training.dataset import FAULT_NAMES, VIEWS, Dataset, load
from training.draws import filmed, random_footage
from training.fit import Expert, assessable
from training.simulator import random_golfer, random_swing
from training.simulator.other_motions import Standing, Throwing, Walking

MODELS: Final[Path] = Path(__file__).parents[1] / "models"
DATA: Final[Path] = Path(__file__).parents[1] / "out" / "training"
METRICS: Final[str] = "metrics.json"
EXPERTS: Final[str] = "experts.joblib"
LEADING: Final[tuple[str, ...]] = FAULT_NAMES[:4]
N_BINS: Final[int] = 10
_NEGATIVES: Final[int] = 40
_WITHIN: Final[float] = 0.033


@dataclass(frozen=True)
class Claim:
    """Something the models must show; ``met`` is ``None`` where too few clips say anything."""

    what: str
    target: str
    value: float | None
    met: bool | None


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
    """Everything measured about one fault in one view."""

    fault: str
    view: str
    kind: str
    stack: dict[str, float]
    trials: dict[str, dict[str, float]]
    stacked: dict[str, float]
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
    return model, stacked(expert.stack, rule, model)


def stacked(stack: Stack, rule: FloatArray, model: FloatArray) -> FloatArray:
    """:meth:`service.analysis.opinion.Stack.chance` for arrays."""
    odds = stack.rule * all_log_odds(rule) + stack.model * all_log_odds(model) + stack.intercept
    return sigmoid(np.where((rule > 0.5) == (model > 0.5), odds, stack.apart * odds))


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


def report(expert: Expert, test: Dataset, off_home: Dataset) -> Report:
    """Measure one expert."""
    k = FAULT_NAMES.index(expert.fault)
    home, away = (assessable(d, expert.fault, expert.view) for d in (test, off_home))
    model, both = chances(expert, home)
    margin, rule = home.margin[:, k], home.rule[:, k]
    error, bins = calibration_error(both, margin > 0.0)
    clear = np.abs(margin) >= GREY
    apart = (model > 0.5) != (rule > 0.5)
    sure = np.maximum(both, 1.0 - both)
    shown = _frame_errors(expert, home, both)
    away_model, away_both = chances(expert, away)
    slices = {
        "all": _slice(rule, model, both, margin),
        "good": _slice(*(a[home.good] for a in (rule, model, both, margin))),
        "phone": _slice(*(a[home.phone] for a in (rule, model, both, margin))),
        "off_home": _slice(away.rule[:, k], away_model, away_both, away.margin[:, k]),
    }
    uses = {(False, True): "model", (True, False): "rules", (True, True): "both"}
    return Report(
        fault=expert.fault,
        view=expert.view.value,
        kind=expert.kind,
        stack=asdict(expert.stack),
        trials={n: asdict(s) for n, s in expert.trials.items()},
        stacked=expert.stacked,
        slices=slices,
        ece=error,
        ece_clear=calibration_error(both[clear], margin[clear] > 0.0)[0],
        reliability=bins,
        uncertain=float((sure < USEFUL_CONFIDENCE).mean()),
        disagree=float(apart.mean()),
        confidence_agreeing=float(sure[~apart].mean()),
        confidence_disagreeing=float(sure[apart].mean()) if apart.any() else float("nan"),
        shown_median_ms=_quantile(shown, 50),
        shown_p90_ms=_quantile(shown, 90),
        served=uses.get((expert.stack.rule > 0, expert.stack.model > 0), "rules"),
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


def _frame_errors(expert: Expert, clips: Dataset, both: FloatArray) -> FloatArray:
    """Milliseconds by which the frame named is off where a fault is rightly called present."""
    k = FAULT_NAMES.index(expert.fault)
    right = (both >= USEFUL_CONFIDENCE) & (clips.margin[:, k] > 0.0)
    off = 1000.0 * np.abs(clips.shown[right, k] - clips.true_shown[right, k])
    return np.asarray(off[np.isfinite(off)])


def _quantile(values: FloatArray, percent: float) -> float:
    return float(np.percentile(values, percent)) if values.size else float("nan")


def false_alarms(experts: list[Expert], clips: Dataset) -> tuple[float, float, int]:
    """Faults wrongly called present in a clean swing: mean count by all, by the rules alone, n.

    Clean is a swing into which no fault was put; what its truth shows as present all the same is
    no false alarm.
    """
    clean = clips.rows(clips.clean)
    wrong, by_rules = np.zeros(len(clean)), np.zeros(len(clean))
    for expert in experts:
        k = FAULT_NAMES.index(expert.fault)
        seen = (clean.view == VIEWS.index(expert.view)) & np.isfinite(clean.rule[:, k])
        absent = seen & ~(clean.margin[:, k] > 0.0)
        _, both = chances(expert, clean.rows(absent))
        wrong[absent] += both >= USEFUL_CONFIDENCE
        by_rules[absent] += clean.rule[absent, k] >= USEFUL_CONFIDENCE
    return float(wrong.mean()), float(by_rules.mean()), len(clean)


def position_hits(clips: Dataset, chosen: BoolArray) -> FloatArray:
    """Share of P1 to P10 placed within 33 ms, of those that the swing reaches, shape (10,)."""
    off = np.abs(clips.positions[chosen] - clips.true_positions[chosen])
    reached = np.isfinite(clips.true_positions[chosen])
    hit = np.where(np.isnan(off), False, off <= _WITHIN)
    return np.asarray((hit & reached).sum(axis=0) / np.maximum(reached.sum(axis=0), 1))


def onnx_difference(experts: list[Expert], classifier: Classifier, clips: Dataset) -> float:
    """Largest difference between an estimator and its ONNX over all clips of its view."""
    worst = 0.0
    for expert in experts:
        rows = clips.features[clips.view == VIEWS.index(expert.view)]
        served = classifier.probabilities(expert.fault, expert.view, rows)
        worst = max(worst, float(np.abs(served - expert.probabilities(rows)).max()))
    return worst


def inference_ms(classifier: Classifier, clips: Dataset, repeats: int = 200) -> float:
    """Median time of all models of one view on one swing, milliseconds."""
    spent = []
    vector = clips.features[clips.view == 0][0]
    faults = [fault for fault, view in classifier.experts if view is View.FACE_ON]
    for _ in range(repeats):
        start = time.perf_counter()
        for fault in faults:
            classifier.probabilities(fault, View.FACE_ON, vector)
        spent.append(1000.0 * (time.perf_counter() - start))
    return float(np.median(spent))


def negatives(classifier: Classifier, seed: int, each: int = _NEGATIVES) -> dict[str, Any]:
    """What the service makes of other motions, of chips and of strokes as short as putts.

    Shares of clips in which a swing is found, and findings of a fault in each.
    """
    rng = np.random.default_rng([seed, 99])
    kinds: dict[str, Callable[[], Any]] = {
        "standing": lambda: Standing(random_golfer(rng)),
        "walking": lambda: Walking(random_golfer(rng)),
        "throwing": lambda: Throwing(random_golfer(rng)),
        "chips": lambda: random_swing(rng, length=float(rng.uniform(0.25, 0.4))),
        "putts": lambda: random_swing(rng, length=0.2),
        "half_swings": lambda: random_swing(rng, length=float(rng.uniform(0.45, 0.6))),
    }
    told = {}
    for kind, make in kinds.items():
        results = []
        for n in range(each):
            recording, _ = filmed(make(), VIEWS[n % 2], random_footage(rng), rng)
            results.append(analyse(recording, classifier))
        present = [sum(f.status is Status.PRESENT for f in r.findings) for r in results]
        told[kind] = {
            "clips": each,
            "swing_found": float(np.mean([r.swing_found for r in results])),
            "faults_present_per_clip": float(np.mean(present)),
        }
    return told


def measure(
    experts: list[Expert], folder: Path, test: Dataset, off_home: Dataset, seed: int
) -> dict[str, Any]:
    """All metrics as one JSON-able mapping."""
    classifier = Classifier.load(folder)
    reports = [report(e, test, off_home) for e in experts]
    fast = ~test.rehearsal
    alarms, rule_alarms, n_clean = false_alarms(experts, test)
    pooled = np.concatenate(
        [_frame_errors(e, c, chances(e, c)[1]) for e in experts
         for c in [assessable(test, e.fault, e.view)]]
    )  # fmt: skip
    positions = {
        f"{intent}, {club}": position_hits(test, rows & seen).tolist()
        for intent, rows in (("full speed", fast), ("rehearsal", test.rehearsal))
        for club, seen in (("with club", test.club), ("without", ~test.club))
    }
    metrics: dict[str, Any] = {
        "version": asdict(classifier.identity),
        "sizes": {"test": len(test), "test_missed": test.missed, "off_home": len(off_home)},
        "faults": [asdict(r) for r in reports],
        "ece_by_fault": ece_by_fault(experts, test),
        "false_alarms_per_clean_swing": alarms,
        "false_alarms_by_rules_alone": rule_alarms,
        "clean_swings": n_clean,
        "shown_ms": {"median": _quantile(pooled, 50), "p90": _quantile(pooled, 90)},
        "positions_within_33_ms": positions,
        "onnx_difference": onnx_difference(experts, classifier, test),
        "inference_ms": inference_ms(classifier, test),
        "model_bytes": sum(p.stat().st_size for p in folder.glob("*.onnx")),
        "negatives": negatives(classifier, seed),
    }
    metrics["claims"] = [asdict(c) for c in claims(reports, metrics)]
    return metrics


def ece_by_fault(experts: list[Expert], test: Dataset) -> dict[str, float]:
    """Calibration error of each fault over both views."""
    errors = {}
    for fault in FAULT_NAMES:
        k, told, truth = FAULT_NAMES.index(fault), [], []
        for expert in (e for e in experts if e.fault == fault):
            clips = assessable(test, fault, expert.view)
            told.append(chances(expert, clips)[1])
            truth.append(clips.margin[:, k] > 0.0)
        errors[fault] = calibration_error(np.concatenate(told), np.concatenate(truth))[0]
    return errors


def claims(reports: list[Report], metrics: dict[str, Any]) -> Iterator[Claim]:
    """Every claim against its target."""
    for r in reports:
        name, lead = f"{r.fault} {r.view}", r.fault in LEADING
        good, phone = r.slices["good"], r.slices["phone"]
        yield _at_least(f"AUROC club+feet 60+ fps: {name}", good, 0.97 if lead else 0.92)
        yield _at_least(f"AUROC phone grade: {name}", phone, 0.90 if lead else 0.85)
        drop = r.slices["all"].both - r.slices["off_home"].both
        yield _at_most(f"AUROC lost off home ground: {name}", drop, 0.05)
    for r in reports:
        name, whole = f"{r.fault} {r.view}", r.slices["all"]
        yield _at_least(f"rules beat chance (AUROC): {name}", whole, 0.5, whole.rule)
        ahead = whole.both - whole.rule
        yield Claim(
            f"with the model AUROC gains on the rules: {name}",
            "> 0",
            ahead,
            bool(ahead > 0.0) if np.isfinite(ahead) else None,
        )
    for fault, error in metrics["ece_by_fault"].items():
        yield _at_most(f"calibration error: {fault}", error, 0.04)
    yield _at_most("false alarms per clean swing", metrics["false_alarms_per_clean_swing"], 0.05)
    yield _at_most("frame named, median error (ms)", metrics["shown_ms"]["median"], 20.0)
    yield _at_most("frame named, 90th percentile (ms)", metrics["shown_ms"]["p90"], 60.0)
    for club, least in (("with club", 0.95), ("without", 0.85)):
        share = float(np.mean(metrics["positions_within_33_ms"][f"full speed, {club}"]))
        yield Claim(
            f"positions within 33 ms, full speed, {club}", f">= {least}", share, share >= least
        )
    yield _at_most("ONNX differs from its estimator by", metrics["onnx_difference"], 1e-5)
    yield _at_most("inference of one swing (ms, one thread)", metrics["inference_ms"], 1.0)
    yield _at_most("models, MB", metrics["model_bytes"] / 1e6, 5.0)


def _at_least(what: str, part: Slice, least: float, value: float | None = None) -> Claim:
    """Told only where at least five clips are on either side."""
    told = part.both if value is None else value
    enough = min(part.present, part.absent) >= 5 and np.isfinite(told)
    size = f" (n={part.present}+{part.absent})"
    return Claim(what + size, f">= {least}", told, bool(told >= least) if enough else None)


def _at_most(what: str, value: float, most: float) -> Claim:
    return Claim(what, f"<= {most:g}", value, bool(value <= most) if np.isfinite(value) else None)


def line(claim: dict[str, Any]) -> str:
    """One line of the table."""
    mark = {True: "met", False: "MISSED", None: "too few clips"}[claim["met"]]
    value = (
        "-"
        if claim["value"] is None or not np.isfinite(claim["value"])
        else f"{claim['value']:.3g}"
    )
    return f"{claim['what']:<72} {value:>9} {claim['target']:>9}  {mark}"


def main() -> int:
    """Print the table."""
    if not (DATA / EXPERTS).exists():
        print("No data sets here: run python -m training.build first.", file=sys.stderr)
        return 2
    test, off_home = load(DATA / "test.npz"), load(DATA / "off_home.npz")
    experts = joblib.load(DATA / EXPERTS)
    seed = json.loads((MODELS / METRICS).read_text(encoding="utf-8"))["seed"]
    metrics = measure(experts, MODELS, test, off_home, seed)
    print("\n".join(line(c) for c in metrics["claims"]))
    met = [c["met"] for c in metrics["claims"]]
    print(f"{met.count(True)} met, {met.count(False)} MISSED, {met.count(None)} with too few clips")
    return 0


if __name__ == "__main__":
    sys.exit(main())
