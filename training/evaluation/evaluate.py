"""What the models must show, on golfers and cameras they have never seen.

``python -m training.evaluation.evaluate`` prints the table from the data sets and models that
``python -m training.build`` left.
"""

from __future__ import annotations

import json
import sys
import time
from collections.abc import Callable, Mapping
from dataclasses import asdict
from pathlib import Path
from typing import Any, Final

import joblib
import numpy as np

from service.analysis.analyse import analyse
from service.analysis.judging.classifier import Classifier
from service.analysis.judging.rules import USEFUL_CONFIDENCE
from service.analysis.types import BoolArray, FloatArray, Status, View
from training.data.dataset import FAULT_NAMES, VIEWS, Dataset, load
from training.data.draws import filmed, random_footage
from training.evaluation.card import METRICS, MODELS
from training.evaluation.claims import claims, line
from training.evaluation.report import calibration_error, chances, frame_errors, quantile, report
from training.models.fit import Expert, assessable
from training.simulator import random_golfer, random_swing
from training.simulator.other_motions import Standing, Throwing, Walking

DATA: Final[Path] = Path(__file__).parents[2] / "out" / "training"
EXPERTS: Final[str] = "experts.joblib"
HELD_OUT: Final[tuple[str, ...]] = ("test", "shifted", "phone")
_NEGATIVES: Final[int] = 40
_WITHIN: Final[float] = 0.033


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
    experts: list[Expert],
    folder: Path,
    held_out: Mapping[str, Dataset],
    seed: int,
) -> dict[str, Any]:
    """All metrics as one JSON-able mapping, from the sets :data:`HELD_OUT`."""
    classifier = Classifier.load(folder)
    reports = [report(e, held_out) for e in experts]
    test, shifted = held_out["test"], held_out["shifted"]
    fast = ~test.rehearsal
    alarms, rule_alarms, n_clean = false_alarms(experts, test)
    pooled = np.concatenate(
        [frame_errors(e, c, chances(e, c)[1]) for e in experts
         for c in [assessable(test, e.fault, e.view)]]
    )  # fmt: skip
    positions = {
        f"{intent}, {club}": position_hits(test, rows & seen).tolist()
        for intent, rows in (("full speed", fast), ("rehearsal", test.rehearsal))
        for club, seen in (("with club", test.club), ("without", ~test.club))
    }
    shifted_fast = shifted.rows(~shifted.rehearsal)
    positions |= {
        f"full speed, shifted, {club}": position_hits(shifted_fast, seen).tolist()
        for club, seen in (("with club", shifted_fast.club), ("without", ~shifted_fast.club))
    }
    metrics: dict[str, Any] = {
        "version": asdict(classifier.identity),
        "sizes": {"test": len(test), "test_missed": test.missed, "shifted": len(shifted)},
        "faults": [asdict(r) for r in reports],
        "ece_by_fault": ece_by_fault(experts, test),
        "false_alarms_per_clean_swing": alarms,
        "false_alarms_by_rules_alone": rule_alarms,
        "clean_swings": n_clean,
        "shown_ms": {"median": quantile(pooled, 50), "p90": quantile(pooled, 90)},
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


def main() -> int:
    """Print the table."""
    if not (DATA / EXPERTS).exists():
        print("No data sets here: run python -m training.build first.", file=sys.stderr)
        return 2
    held_out = {name: load(DATA / f"{name}.npz") for name in HELD_OUT}
    experts = joblib.load(DATA / EXPERTS)
    seed = json.loads((MODELS / METRICS).read_text(encoding="utf-8"))["seed"]
    metrics = measure(experts, MODELS, held_out, seed)
    print("\n".join(line(c) for c in metrics["claims"]))
    met = [c["met"] for c in metrics["claims"]]
    print(f"{met.count(True)} met, {met.count(False)} MISSED, {met.count(None)} with too few clips")
    return 0


if __name__ == "__main__":
    sys.exit(main())
