"""Rebuild data sets, models, metrics and card: ``python -m training.build``.

Everything follows from the seed; only the date of training and the time measured differ from one
run to the next.
"""

from __future__ import annotations

import argparse
import json
import os
import time
from collections.abc import Mapping
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path
from typing import Any, Final

import joblib

from training.data.dataset import SPLITS, Dataset, build, load, save
from training.evaluation.card import METRICS, MODELS, write_card
from training.evaluation.claims import line
from training.evaluation.evaluate import DATA, EXPERTS, measure
from training.experiments.one_or_several import compare
from training.models.fit import export, fit_all

SEED: Final[int] = 1
GOLFERS: Final[dict[str, int]] = {
    "train": 1800,
    "calibration": 1200,
    "test": 2000,
    "shifted": 350,
    "phone": 1000,
}


def rebuild(
    golfers: Mapping[str, int],
    seed: int,
    models: Path,
    data: Path,
    jobs: int,
    *,
    reuse: bool = False,
    quiet: bool = False,
) -> dict[str, Any]:
    """Make data sets, fit, export, measure, and write the card; returns the metrics.

    ``reuse`` takes the data sets found in ``data`` instead of making them.
    """
    start = time.monotonic()
    splits = {s: _split(data / f"{s}.npz", s, golfers, seed, jobs, reuse, quiet) for s in SPLITS}
    version = sha256("".join(d.version() for d in splits.values()).encode()).hexdigest()[:12]
    experts = fit_all(splits["train"], splits["calibration"], quiet=quiet)
    export(experts, models, version, datetime.now(UTC).date())
    joblib.dump(experts, data / EXPERTS)
    metrics = measure(experts, models, splits, seed)
    metrics["seed"] = seed
    metrics["golfers"] = dict(golfers)
    metrics["clips"] = {s: len(d) for s, d in splits.items()}
    metrics["one_or_several"] = compare(experts, splits["train"], quiet=quiet)
    metrics["reused_data"] = reuse
    metrics["minutes"] = round((time.monotonic() - start) / 60.0, 1)
    metrics = {name: _rounded(value) for name, value in metrics.items()}
    (models / METRICS).write_text(json.dumps(metrics, indent=1) + "\n", encoding="utf-8")
    write_card(models)
    return metrics


def _split(
    path: Path,
    split: str,
    golfers: Mapping[str, int],
    seed: int,
    jobs: int,
    reuse: bool,
    quiet: bool,
) -> Dataset:
    if reuse and path.exists():
        return load(path)
    made = build(seed, split, golfers[split], jobs, quiet=quiet)
    save(made, path)
    return made


def _rounded(value: Any) -> Any:
    """Numbers to six digits; what is not finite to null, which JSON can hold."""
    if isinstance(value, dict):
        return {k: _rounded(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [_rounded(v) for v in value]
    if isinstance(value, float):
        return round(value, 6) if value == value and abs(value) != float("inf") else None
    return value


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1, help="processes")
    parser.add_argument("--reuse", action="store_true", help="keep the data sets already made")
    options = parser.parse_args()
    metrics = rebuild(GOLFERS, SEED, MODELS, DATA, options.jobs, reuse=options.reuse)
    print("\n".join(line(c) for c in metrics["claims"]))


if __name__ == "__main__":
    main()
