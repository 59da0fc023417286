"""Rebuild data set, models, metrics and card: ``python -m training.build``.

With ``--positions`` the network that places positions is learnt anew before, so that one command
rebuilds all that is learnt; without an accelerator that takes longer than all the rest.
Everything follows from the seed; only the date of training and the time measured differ from one
run to the next.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import subprocess
import sys
import time
from collections.abc import Mapping
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

from service.analysis import events
from service.analysis.events.positions.network import FILE
from training.data.dataset import Dataset, build, load, save
from training.evaluation.card import METRICS, MODELS, write_card
from training.evaluation.left_out import figures, judge_left_out
from training.models.export import export
from training.models.learn import learn
from training.models.left_out import learnt_without

SEED: Final[int] = 1
DATA: Final[Path] = Path(__file__).parents[1] / "out" / "training"
GOLFERS: Final[dict[str, int]] = {
    "joint angles": 600,
    "shifted": 500,
    "keyed": 850,
    "retimed": 500,
}
"""Golfers of each make that the estimators are learned from."""
POSITIONS: Final[Path] = Path(events.positions.__file__).parent / FILE
"""The network that places positions, which ``training.models.fit_positions`` writes."""
JUDGED_CLIPS: Final[int] = 1200
"""Clips of each make that are judged when it is left out."""


def rebuild(
    golfers: Mapping[str, int],
    seed: int,
    models: Path,
    data: Path,
    jobs: int,
    *,
    reuse: bool,
) -> dict[str, Any]:
    """Make the data set, learn, export, and write metrics and card; returns the metrics.

    ``reuse`` takes the data set found in ``data`` instead of making it.
    """
    start = time.monotonic()
    train = _split(data / "train.npz", golfers, seed, jobs, reuse)
    learned, trials = learn(train, jobs=jobs)
    manifest = export(learned, models, train.version(), datetime.now(UTC).date())
    metrics: dict[str, Any] = {
        "version": {k: manifest[k] for k in ("version", "trained", "data")},
        "seed": seed,
        "golfers": dict(golfers),
        "clips": {name: int((train.source == k).sum()) for k, name in enumerate(train.sources)},
        "trials": [asdict(t) for t in trials],
        "left_out": figures(judge_left_out(train, JUDGED_CLIPS, seed, jobs)),
        "model_bytes": sum(p.stat().st_size for p in (*models.glob("*.onnx"), POSITIONS)),
        "reused_data": reuse,
        "processes": jobs,
        "minutes": round((time.monotonic() - start) / 60.0, 1),
    }
    metrics = _rounded(metrics)
    (models / METRICS).write_text(json.dumps(metrics, indent=1) + "\n", encoding="utf-8")
    write_card(models)
    return metrics


def _rounded(value: Any) -> Any:
    """Numbers to six digits; what is not finite to null, which JSON can hold."""
    if isinstance(value, dict):
        return {k: _rounded(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [_rounded(v) for v in value]
    if isinstance(value, float):
        return round(value, 6) if math.isfinite(value) else None
    return value


def _split(path: Path, golfers: Mapping[str, int], seed: int, jobs: int, reuse: bool) -> Dataset:
    if reuse and path.exists():
        return load(path)
    made = build(seed, "train", golfers, learnt_without, jobs)
    save(made, path)
    return made


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1, help="processes")
    parser.add_argument("--reuse", action="store_true", help="keep the data set already made")
    parser.add_argument("--positions", action="store_true", help="learn where positions lie, too")
    options = parser.parse_args()
    if options.positions:
        # a process of its own gives back the accelerator and what memory it took
        subprocess.run([sys.executable, "-m", "training.models.fit_positions"], check=True)
    metrics = rebuild(GOLFERS, SEED, MODELS, DATA, options.jobs, reuse=options.reuse)
    served = sum(t["served"] for t in metrics["trials"])
    print(f"{served} of {len(metrics['trials'])} measures are estimated; see {MODELS}")


if __name__ == "__main__":
    main()
