"""The model card: what the models are, what they were made from and what they can do.

``python -m training.evaluation.card`` writes it anew from the metrics that
``python -m training.build`` left.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any, Final

from service.analysis.judging.rules import USEFUL_CONFIDENCE

MODELS: Final[Path] = Path(__file__).parents[2] / "models"
METRICS: Final[str] = "metrics.json"
CARD: Final[str] = "model_card.md"
_REALISM: Final[str] = "realism.md"
_PICTURE: Final[str] = "realism.png"
_BAR: Final[int] = 20


def card(metrics: dict[str, Any], models: Path) -> str:
    """The card as Markdown."""
    parts = (
        _about(metrics),
        _claims(metrics),
        _faults(metrics),
        _served(metrics),
        _candidates(metrics),
        _one_or_several(metrics),
        _reliability(metrics),
        _positions(metrics),
        _negatives(metrics),
        _realism(models),
    )
    return "\n\n".join(parts) + "\n"


def _about(metrics: dict[str, Any]) -> str:
    version, clips = metrics["version"], metrics["clips"]
    sizes = ", ".join(f"{split.replace('_', ' ')} {n}" for split, n in clips.items())
    golfers = ", ".join(f"{split.replace('_', ' ')} {n}" for split, n in metrics["golfers"].items())
    made = ", the making of the data sets not counted" if metrics["reused_data"] else ""
    return f"""# Model card: faults of a golf swing from pose keypoints

Version {version["version"]}, trained {version["trained"]}, data {version["data"]}, seed \
{metrics["seed"]}. Rebuilt by `python -m training.build` in {metrics["minutes"]} minutes{made}.

**What it is.** One small model for every fault and view, beside the rule of the fault. A rule
compares a measure with a threshold; a model sees the measures, their uncertainty, the joints about
them and the quality of the clip. A logistic calibration makes one chance of the two, which is
what is measured here. The service tells what the model says and judges by the rule alone.

**What it was made from.** Simulated golfers only: no labelled swings of real players can openly
be had. Clips: {sizes}. Golfers: {golfers}; no golfer and no camera is in two splits. The
shifted setting is a second generator with other proportions, tempo, ways in which faults come
about, and an estimator that errs more steadily and at times wildly.

**What is true.** The labels are the catalogue's own measures taken on the joints in space without
error, straight along the line of sight, at the true positions and in true statures, against the
thresholds; never the amount that was put in. Turns told from how narrow a line looks are
true in that sense, not as angles in space. Arms lifting and the heel are defined by other measures
in each view, so that a swing may be over the line in one and not in the other. Within one
half-width of the threshold (the grey zone) coaches would differ: such clips are in training and
calibration, and in the calibration error, by the side on which they lie; AUROC leaves them out
and counts them as grey.

**What its confidence means.** The chance among simulated clips as these, where each fault is
present in some 5 to 60 % of the clips in which it can be assessed. Among players who show it far
more or less often it is off accordingly. Below {USEFUL_CONFIDENCE:.2f} the finding is `uncertain`.
It says nothing of real players that the simulator does not hold: see the part on realism.

**What it is not for.** Medical advice, or judging a player's worth. Nothing here was measured
against a coach's eye."""


def _claims(metrics: dict[str, Any]) -> str:
    marks = {True: "met", False: "**MISSED**", None: "too few clips"}
    rows = [
        (c["what"], _number(c["value"]), c["target"], marks[c["met"]]) for c in metrics["claims"]
    ]
    met = [c["met"] for c in metrics["claims"]]
    count = (
        f"{met.count(True)} met, {met.count(False)} missed, {met.count(None)} with too few clips."
    )
    return f"## What it must show\n\n{count}\n\n" + _table(("claim", "value", "target", ""), rows)


def _faults(metrics: dict[str, Any]) -> str:
    heads = ("fault", "view", "clips", "present / absent / grey", "AUROC rule", "model", "both",
             "good footage", "phone", "shifted", "log loss rule", "both", "ECE",
             "frame, median / 90th (ms)")  # fmt: skip
    rows = []
    for r in metrics["faults"]:
        s, whole = r["slices"], r["slices"]["all"]
        rows.append(
            (
                r["fault"],
                r["view"],
                whole["clips"],
                f"{whole['present']} / {whole['absent']} / {whole['grey']}",
                *(_number(whole[k]) for k in ("rule", "model", "both")),
                *(_number(s[k]["both"]) for k in ("good", "phone", "shifted")),
                *(_number(r[k]) for k in ("log_loss_rule", "log_loss", "ece")),
                f"{_whole(r['shown_median_ms'])} / {_whole(r['shown_p90_ms'])}",
            )
        )
    text = (
        "## Each fault, on golfers and cameras never seen\n\n`both` is the chance from rule and "
        "model together. AUROC leaves the grey zone out; log loss, of the rule calibrated alone "
        "and of the chance from both, counts every clip."
    )
    for r in metrics["faults"]:
        whole = r["slices"]["all"]
        if whole["both"] <= whole["rule"]:
            text += _no_better_by_auroc(r, whole)
    return text + "\n\n" + _table(heads, rows)


def _no_better_by_auroc(told: dict[str, Any], whole: dict[str, Any]) -> str:
    better = told["log_loss"] < told["log_loss_rule"]
    verdict = "lower" if better else "not lower either"
    return (
        f" For {told['fault']} {told['view']} the rule alone ranks at least as well (AUROC "
        f"{whole['rule']:.4f}, both {whole['both']:.4f}); log loss with the model is "
        f"{_number(told['log_loss'])} against {_number(told['log_loss_rule'])}, {verdict}."
    )


def _served(metrics: dict[str, Any]) -> str:
    heads = ("fault", "view", "model", "best", "log loss rule", "model", "both", "uncertain",
             "disagree", "confidence when agreeing", "when not")  # fmt: skip
    rows = [
        (
            r["fault"],
            r["view"],
            r["kind"],
            r["served"],
            *(_number(r["stacked"][k]) for k in ("rule", "model", "both")),
            f"{100 * r['uncertain']:.1f} %",
            f"{100 * r['disagree']:.1f} %",
            _number(r["confidence_agreeing"]),
            _number(r["confidence_disagreeing"]),
        )
        for r in metrics["faults"]
    ]
    text = (
        "## Which tells best\n\nRule, model or both, whichever has the least log loss on "
        "golfers left out of the calibration split. `uncertain` and `disagree` are shares of the "
        "test clips in which the fault can be assessed.\n\n"
    )
    return text + _table(heads, rows)


def _candidates(metrics: dict[str, Any]) -> str:
    kinds = list(metrics["faults"][0]["trials"])
    rows = [
        (
            r["fault"],
            r["view"],
            *(
                f"{_number(r['trials'][k]['auroc'])} ({_number(r['trials'][k]['log_loss'])})"
                for k in kinds
            ),
        )
        for r in metrics["faults"]
    ]
    text = (
        "## Models compared\n\nAUROC without the grey zone, and log loss with it, by golfers left "
        "out of the fit (three folds of the training split). `time_series` sees joints evenly in "
        "time and knows no positions: a baseline, never a choice.\n\n"
    )
    return text + _table(("fault", "view", *kinds), rows)


def _one_or_several(metrics: dict[str, Any]) -> str:
    rows = [
        (
            r["fault"],
            r["view"],
            r["clips"],
            r["n"],
            _number(r["one_log_loss"]),
            _number(r["several_log_loss"]),
        )
        for r in metrics["one_or_several"]
    ]
    parts = [r for r in metrics["one_or_several"] if r["clips"] != "both views"]
    views = [r for r in metrics["one_or_several"] if r["clips"] == "both views"]
    better = sum(r["one_log_loss"] <= r["several_log_loss"] for r in parts)
    shared = sum(r["one_log_loss"] <= r["several_log_loss"] for r in views)
    text = (
        "## One model or several\n\nLog loss on some of the clips of a model fitted on all clips "
        "of the view, which knows what is missing, and of one fitted on those clips alone. The one "
        f"model is at least as good in {better} of {len(parts)} cases, and is what is shipped. "
        f"A model of both views is at least as good as one of each in {shared} of {len(views)} "
        "cases (`one` there is the model of both views); shipped is one a view.\n\n"
    )
    return text + _table(("fault", "view", "clips", "n", "one", "several"), rows)


def _reliability(metrics: dict[str, Any]) -> str:
    blocks = []
    for r in metrics["faults"]:
        lines = [
            f"{chance:5.2f} said, {share:5.2f} true |{'#' * round(_BAR * share):<{_BAR}}| {n}"
            for chance, share, n in r["reliability"]
        ]
        blocks.append(f"{r['fault']}, {r['view']}, ECE {r['ece']:.3f}\n" + "\n".join(lines))
    text = (
        "## Reliability\n\nChance from both and share truly present in ten bins, with clips in "
        "each.\n\n"
    )
    return text + "```\n" + "\n\n".join(blocks) + "\n```"


def _positions(metrics: dict[str, Any]) -> str:
    rows = [
        (case, *(f"{100 * share:.0f}" for share in shares), f"{100 * sum(shares) / 10:.1f}")
        for case, shares in metrics["positions_within_33_ms"].items()
    ]
    heads = ("clips", *(f"P{n}" for n in range(1, 11)), "all")
    return "## Positions within 33 ms of the truth (%)\n\n" + _table(heads, rows)


def _negatives(metrics: dict[str, Any]) -> str:
    rows = [
        (
            kind.replace("_", " "),
            told["clips"],
            f"{100 * told['swing_found']:.0f} %",
            _number(told["faults_present_per_clip"]),
        )
        for kind, told in metrics["negatives"].items()
    ]
    alarms = metrics["false_alarms_per_clean_swing"]
    text = (
        f"## What is no fault\n\nIn {metrics['clean_swings']} clean test clips "
        f"{_number(alarms)} faults a swing are wrongly called present by both, "
        f"{_number(metrics['false_alarms_by_rules_alone'])} by the rules alone. Other motions, and "
        "sound short swings:\n\n"
    )
    return text + _table(("clips of", "n", "swing found", "faults present per clip"), rows)


def _realism(models: Path) -> str:
    path = models / _REALISM
    if not path.exists():
        command = "python -m training.evaluation.realism --out models"
        return f"## Realism\n\nNot measured: run `{command}` first."
    picture = "\n\n![The same as a picture](realism.png)" if (models / _PICTURE).exists() else ""
    return "## Realism\n\n" + path.read_text(encoding="utf-8").strip() + picture


def _whole(value: float | None) -> str:
    return "-" if value is None else f"{value:.0f}"


def _number(value: float | None) -> str:
    if value is None or not math.isfinite(value):
        return "-"
    return f"{value:.3f}" if abs(value) >= 0.001 or value == 0 else f"{value:.1e}"


def _table(heads: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    lines = [heads, ["---"] * len(heads), *rows]
    return "\n".join("| " + " | ".join(str(cell) for cell in row) + " |" for row in lines)


def write_card(models: Path) -> None:
    """Write the card of a folder beside its metrics."""
    metrics = json.loads((models / METRICS).read_text(encoding="utf-8"))
    (models / CARD).write_text(card(metrics, models), encoding="utf-8")


if __name__ == "__main__":
    write_card(MODELS)
