"""The model card: what the trained part is, what it was made from and what it can do.

``python -m training.evaluation.card`` writes it anew from the metrics that
``python -m training.build`` left.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from service.analysis.judging.calibration import SUREST
from service.analysis.judging.rules import USEFUL_CONFIDENCE
from training.models.verdicts import CHANCE, WRONG_COSTS

MODELS: Final[Path] = Path(__file__).parents[2] / "models"
METRICS: Final[str] = "metrics.json"
CARD: Final[str] = "model_card.md"
_REALISM: Final[str] = "realism.md"
_PICTURE: Final[str] = "realism.png"
_BAR: Final[int] = 20


@dataclass(frozen=True)
class Claim:
    """Something the service must show on makes left out, against its target."""

    what: str
    value: float
    target: str
    met: bool


def claims(metrics: dict[str, Any]) -> Iterator[Claim]:
    """Every figure that has a target."""
    both = metrics["left_out"]["all"]
    learned, rules = both["learned"]["verdicts"], both["rules alone"]["verdicts"]
    yield _at_most("wrong among decided verdicts", learned["wrong"], 0.007)
    yield _at_most("the same where the truth is clear", learned["wrong_clear"], 0.007)
    yield _at_least("recall where assessable, truth clear", learned["recall_clear"], 0.95)
    yield _at_most("false alarms a clean swing", learned["alarms"], 0.02)
    yield _at_least("right where 0.95 sure", learned["sure_right"], 0.99)
    yield _at_most("verdicts against their own evidence", float(learned["against"]), 0.0)
    for name, better in (("wrong", -1), ("recall", 1), ("alarms", -1)):
        gained = better * (learned[name] - rules[name])
        yield Claim(f"better than the rules alone: {name}", gained, "> 0", gained > 0.0)
    placed = both["learned"]["placed"]
    for grade, what, least in (
        ("club", "positions within 33 ms, full speed, club and 60 fps", 0.95),
        ("phone", "positions within 33 ms, full speed, phone grade", 0.88),
        ("rehearsal", "positions within 2 % of the length, rehearsals", 0.90),
    ):
        yield _at_least(what, _mean(placed[grade]), least)
    yield _at_most("models, MB", metrics["model_bytes"] / 1e6, 5.0)
    name = f"rebuilt, minutes, by {metrics['processes']} processes"
    yield _at_most(name, metrics["minutes"], 40.0)


def _at_least(what: str, value: float, least: float) -> Claim:
    return Claim(what, value, f">= {least:g}", value >= least)


def _at_most(what: str, value: float, most: float) -> Claim:
    return Claim(what, value, f"<= {most:g}", value <= most)


def _mean(values: Sequence[float | None]) -> float:
    known = [v for v in values if v is not None]
    return sum(known) / len(known) if known else float("nan")


def card(metrics: dict[str, Any], models: Path) -> str:
    """The card as Markdown."""
    parts = (
        _about(metrics),
        _claims(metrics),
        _makes(metrics),
        _faults(metrics),
        _measures(metrics),
        _trials(metrics),
        _positions(metrics),
        _reliability(metrics),
        _realism(models),
    )
    return "\n\n".join(parts) + "\n"


def _about(metrics: dict[str, Any]) -> str:
    version = metrics["version"]
    clips = ", ".join(f"{name} {n}" for name, n in metrics["clips"].items())
    golfers = ", ".join(f"{name} {n}" for name, n in metrics["golfers"].items())
    made = ", the making of the data set not counted" if metrics["reused_data"] else ""
    return f"""# Model card: what is learned about a golf swing

Version {version["version"]}, trained {version["trained"]}, data {version["data"]}, seed \
{metrics["seed"]}. Rebuilt by `python -m training.build` in {metrics["minutes"]} minutes by
{metrics["processes"]} processes{made}.

**What it is.** For every measure that a fault is judged by, and each view, a small estimator:
gradient-boosted trees that say how far the measure is off in this clip and how large the error is
that remains. The rule then holds the estimate against the threshold of the catalogue; a
calibration says how sure that makes, and never turns a verdict round. An estimator is served only
where it came nearer to the truth than the measure itself on every make of golfer left out, and
unless the verdicts that go by it there are worth less by more than chance: faults told, less
{WRONG_COSTS:g} for each wrong verdict. It fades where the measured value lies beyond those that it
was made from.

Positions are placed by a convolutional network of its own, which sees the whole swing;
`python -m training.build --positions` learns it before all else, and with it the networks learnt
without each make. By these the makes left out are judged here, and by these the clips are placed
from which the estimators learn: each clip by the network that does not know its make, as none knows
a player who is filmed.

**What it was made from.** Simulated golfers only: no labelled swings of real players can openly be
had. Golfers: {golfers}. Clips: {clips}. `joint angles` moves a body by curves of joint angles;
`shifted` is the same with other proportions, tempo, ways of a fault and errors of the estimator;
`retimed` the same moved by other clocks; `keyed` is built on key positions in space and inverse
kinematics and shares none of their mechanics. The first three share much, so that `keyed` is the
one that tells most. Two clips in five err as a real estimator of 33 landmarks does on small
pictures, a few of them as people who mark frames by hand; the others err more gently.

**What is true.** The catalogue's own measures taken on the joints in space without error, straight
along the line of sight, at the true positions and in true statures. Turns told from how narrow a
line looks are true in that sense, not as angles in space. Within one half-width of the threshold
(the grey zone) coaches would differ; *clear* figures leave those swings out.

**What its confidence means.** The chance that the fault is present among clips as these, where
about one fault in six that can be judged is present. It never exceeds {SUREST:g}, nor what the
clips left out support. Below {USEFUL_CONFIDENCE:.2f} a finding is `uncertain`. A swing unlike
those of the training clips is judged as measured, with wider error, and the answer says so.

**What it is not for.** Medical advice, or judging a player's worth. Nothing here was measured
against a coach's eye. What real clips and motion capture show is in the README; neither taught the
estimators anything, but the gate that tells golf from other actions was fitted on annotated clips,
and numbers of view, of keypoint errors and of the simulated estimator were set while looking at
them, as their modules say."""


def _claims(metrics: dict[str, Any]) -> str:
    told = list(claims(metrics))
    rows = [(c.what, _number(c.value), c.target, "met" if c.met else "**MISSED**") for c in told]
    met = sum(c.met for c in told)
    return (
        "## On makes left out, against the targets\n\n"
        "All makes together, each judged by what was learned from the others. "
        f"{met} met, {len(told) - met} missed.\n\n"
        + _table(("figure", "value", "target", ""), rows)
    )


_VERDICTS: Final = (
    "decided", "wrong", "wrong, clear", "recall", "recall, clear", "false alarms a clean swing",
    "right where 0.95 sure", "against evidence", "AUROC", "assessable",
    "marked faults told",
)  # fmt: skip


def _verdicts(told: dict[str, Any]) -> tuple[str, ...]:
    return (
        str(told["decided"]),
        _share(told["wrong"]),
        _share(told["wrong_clear"]),
        f"{_number(told['recall'])} of {told['present']}",
        _number(told["recall_clear"]),
        f"{_number(told['alarms'])} of {told['clean']}",
        f"{_share(told['sure_right'])} of {told['sure']}",
        str(told["against"]),
        _number(told["auroc"]),
        _share(told["assessable"]),
        f"{_share(told['told_marked'])} of {told['marked']}",
    )


def _makes(metrics: dict[str, Any]) -> str:
    rows = [
        (make, by, *_verdicts(told["verdicts"]))
        for make, by_judge in metrics["left_out"].items()
        for by, told in by_judge.items()
    ]
    return (
        "## Verdicts by the make left out\n\n"
        "*wrong*: decided verdicts on the other side of the threshold than the truth; *recall*: of "
        "truly present faults, where assessable; *marked faults told*: of truly marked faults that "
        "the footage shows, be it vaguely, those told as present.\n\n"
        + _table(("make left out", "judged by", *_VERDICTS), rows)
    )


def _faults(metrics: dict[str, Any]) -> str:
    both = metrics["left_out"]["all"]
    rows = [
        (fault, by, *_verdicts(both[by]["faults"][fault]))
        for fault in both["learned"]["faults"]
        for by in both
        if fault in both[by]["faults"]
    ]
    return "## Verdicts by fault, all makes left out in turn\n\n" + _table(
        ("fault", "judged by", *_VERDICTS), rows
    )


def _measures(metrics: dict[str, Any]) -> str:
    both = metrics["left_out"]["all"]
    measured = {m["measure"]: m for m in both["rules alone"]["measures"]}
    rows = []
    for m in both["learned"]["measures"]:
        plain = measured.get(m["measure"], m)
        rows.append(
            (
                m["measure"],
                m["n"],
                _share(plain["coverage"]),
                _share(m["coverage"]),
                _signed(plain["bias"]),
                _signed(m["bias"]),
                _number(plain["spread"]),
                _number(m["spread"]),
                "-" if m["grey"] is None else f"{m['grey']:g}",
            )
        )
    heads = ("measure", "n", "within 2 uncertainties: measured", "estimated",
             "median off: measured", "estimated", "spread: measured", "estimated",
             "grey")  # fmt: skip
    return "## Measures, all makes left out in turn\n\n" + _table(heads, rows)


def _trials(metrics: dict[str, Any]) -> str:
    names = list(metrics["clips"])
    rows = [
        (
            t["measure"],
            t["view"],
            t["clips"],
            *(
                f"{_number(t['crps'][n])} / {_number(t['crps_measured'][n])}"
                if n in t["crps"]
                else "-"
                for n in names
            ),
            f"{t['weight']:.2f}",
            f"{t['width']:.2f}",
            *_choice(t),
        )
        for t in metrics["trials"]
    ]
    heads = ("measure", "view", "clips", *names, "share", "width",
             "faults told", "wrong verdicts", "served")  # fmt: skip
    return (
        "## What is served\n\nContinuous ranked probability score (lower is nearer to the truth) "
        "of what is told with the estimate / of what was measured, by the make left out. The share "
        "of the estimate in what is told is the least that any of them supports, at most one half. "
        "The uncertainty of both is told by that width, the least with which two hold 96.5 % on "
        "each and with a real estimator's errors. Where the score is lower on all, the rule judges "
        "the makes left out with the estimate / with what was measured: *faults told*, of those "
        "truly there beyond the grey zone that the footage shows, and *wrong verdicts*. Served "
        f"unless faults told, less {WRONG_COSTS:g} for each wrong verdict, are fewer with it by "
        f"{CHANCE:g} standard errors. A make that judges what is learned above had no part in it: "
        "estimators and choice were made anew from the others.\n\n" + _table(heads, rows)
    )


def _choice(trial: dict[str, Any]) -> tuple[str, str, str]:
    """Faults told and wrong verdicts with the estimate and without, and what came of it."""
    by_estimate, by_measure = (trial.get(k) for k in ("verdicts", "verdicts_measured"))
    if by_estimate is None or by_measure is None:
        return "-", "-", "yes" if trial["served"] else "no: not nearer on all"
    told, wrong = (f"{by_estimate[k]} / {by_measure[k]}" for k in ("told", "wrong"))
    chosen = "yes" if trial["served"] else "no: verdicts worth less"
    return f"{told} of {by_estimate['there']}", wrong, chosen


def _positions(metrics: dict[str, Any]) -> str:
    rows = [
        (make, grade, *(_share(s) for s in shares), _share(_mean(shares)))
        for make, by_judge in metrics["left_out"].items()
        for grade, shares in by_judge["learned"]["placed"].items()
    ]
    heads = ("make", "footage", *(f"P{n}" for n in range(1, 11)), "all")
    return (
        "## Positions\n\nWithin 33 ms of the truth at full speed; rehearsals within 2 % of the "
        "swing's length. The network that places them was learned from the makes not left out.\n\n"
        + _table(heads, rows)
    )


def _reliability(metrics: dict[str, Any]) -> str:
    blocks = []
    for by, told in metrics["left_out"]["all"].items():
        lines = [
            f"{chance:5.2f} said, {share:5.2f} true |{'#' * round(_BAR * share):<{_BAR}}| {n}"
            for chance, share, n in told["reliability"]
        ]
        blocks.append(f"{by}\n" + "\n".join(lines))
    text = "## Reliability on makes left out\n\nChance told and share truly present.\n\n"
    return text + "```\n" + "\n\n".join(blocks) + "\n```"


def _realism(models: Path) -> str:
    path = models / _REALISM
    if not path.exists():
        command = "python -m training.evaluation.realism --out models"
        return f"## Realism\n\nNot measured: run `{command}` first."
    picture = "\n\n![The same as a picture](realism.png)" if (models / _PICTURE).exists() else ""
    return "## Realism\n\n" + path.read_text(encoding="utf-8").strip() + picture


def _number(value: float | None) -> str:
    if value is None or not math.isfinite(value):
        return "-"
    return f"{value:.3f}" if abs(value) >= 0.001 or value == 0 else f"{value:.1e}"


def _signed(value: float) -> str:
    return f"{value:+.2f}"


def _share(value: float | None) -> str:
    return "-" if value is None or not math.isfinite(value) else f"{100 * value:.1f} %"


def _table(heads: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    lines = [heads, ["---"] * len(heads), *rows]
    return "\n".join("| " + " | ".join(str(cell) for cell in row) + " |" for row in lines)


def write_card(models: Path) -> None:
    """Write the card of a folder beside its metrics."""
    metrics = json.loads((models / METRICS).read_text(encoding="utf-8"))
    (models / CARD).write_text(card(metrics, models), encoding="utf-8")


if __name__ == "__main__":
    write_card(MODELS)
