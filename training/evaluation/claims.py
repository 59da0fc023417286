"""What the models must show: every figure against its target."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from training.data.dataset import FAULT_NAMES
from training.evaluation.report import Report, Slice

LEADING: Final[tuple[str, ...]] = FAULT_NAMES[:4]


@dataclass(frozen=True)
class Claim:
    """Something the models must show; ``met`` is ``None`` where too few clips say anything."""

    what: str
    target: str
    value: float | None
    met: bool | None


def claims(reports: list[Report], metrics: dict[str, Any]) -> Iterator[Claim]:
    """Every claim against its target."""
    for r in reports:
        name, lead = f"{r.fault} {r.view}", r.fault in LEADING
        good, phone = r.slices["good"], r.slices["phone"]
        yield _at_least(f"AUROC club+feet 60+ fps: {name}", good, 0.97 if lead else 0.92)
        yield _at_least(f"AUROC phone grade: {name}", phone, 0.90 if lead else 0.85)
        drop = r.slices["all"].both - r.slices["shifted"].both
        yield _at_most(f"AUROC lost in the shifted setting: {name}", drop, 0.05)
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
        saved = r.log_loss_rule - r.log_loss
        yield Claim(f"log loss falls with the model: {name}", "> 0", saved, saved > 0.0)
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
