"""Are our simulated golfers shaped like real ones?

``python -m training.evaluation.realism --out FOLDER`` tells.

Two questions are put. How far do the shapes of simulated bodies (elbows, knees, trunk and tilts
at the positions) cover the spread of real shots? And can a classifier tell the pictures of
simulated swings from real clips annotated by hand, and by what? The answers are a Markdown
section for the model card and a plot; the real data itself stays outside the project.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
from matplotlib.figure import Figure
from scipy.stats import ks_2samp

from service.analysis.types import FloatArray, View
from training.data.mixed_players import CLUBS_OF_THE_SHOTS, mixed_keyed_player, mixed_player
from training.data.sources import FilmedSwing
from training.evaluation.real_shots import LEFT_OUT, SHAPES, Shape, read_shots, reference_folder
from training.evaluation.two_samples import TwoSamples, tell_apart
from training.simulator import EstimatorNoise, film, random_camera

_QUANTILES: Final = (0.1, 0.5, 0.9)
_PHONE: Final = (0.2, 0.5)
"""Levels of the estimator's noise on phone footage, drawn evenly on a log scale."""
_RATE: Final = 60.0
_SWINGS: Final = 300
_OF_ANGLES: Final = "joint angles"
_MAKES: Final[dict[str, Callable[..., FilmedSwing]]] = {
    _OF_ANGLES: mixed_player,
    "keyed": mixed_keyed_player,
}
_BAR: Final = 0.28
"""Inches of height of a shape in the plot."""


@dataclass(frozen=True)
class Compared:
    """Real and simulated values of one shape.

    Attributes
    ----------
    real, simulated : arrays of shape (3,)
        Quantiles at 10, 50 and 90 %.
    kolmogorov : float
        Kolmogorov-Smirnov distance, 0 to 1.
    covered : float
        Share of the real middle 80 % that lies within the simulated middle 80 %.
    """

    shape: Shape
    real: FloatArray
    simulated: FloatArray
    kolmogorov: float
    covered: float


def simulated_shapes(
    swings: int = _SWINGS, seed: int = 0, make: str = _OF_ANGLES
) -> dict[str, FloatArray]:
    """Usable values of every shape on simulated swings of one make, filmed by a phone, by name."""
    found: dict[str, list[float]] = {shape.name: [] for shape in SHAPES}
    rng = np.random.default_rng(seed)
    for _ in range(swings):
        motion = _MAKES[make](rng, CLUBS_OF_THE_SHOTS)
        for view in View:
            points = _at_positions(motion, view, rng)
            for shape in SHAPES:
                if shape.view is view:
                    seen = points[shape.position - 1 : shape.position]
                    found[shape.name].append(float(shape.measure(seen)[0]))
    return {shape.name: shape.usable(np.array(found[shape.name])) for shape in SHAPES}


def _at_positions(motion: FilmedSwing, view: View, rng: np.random.Generator) -> FloatArray:
    """Noisy image points at the true P1 to P10, shape (10, N_POINTS, 2), y up."""
    moments = motion.position_times
    reached = moments[np.isfinite(moments)]
    times = np.union1d(np.arange(0.0, motion.duration, 1.0 / _RATE), reached)
    level = float(np.exp(rng.uniform(*np.log(_PHONE))))
    noise = EstimatorNoise(level=level, swaps=0.0, gaps=0.0)
    clip = film(motion, random_camera(rng, view), times=times, noise=noise, rng=rng)
    points = np.full((10, *clip.points.shape[1:]), np.nan)
    points[np.isfinite(moments)] = clip.points[np.searchsorted(times, reached)]
    return np.asarray(points * np.array([1.0, -1.0]))


def compare(real: Mapping[str, FloatArray], simulated: Mapping[str, FloatArray]) -> list[Compared]:
    """Hold the simulated shapes against the real ones, in the order of the table of shapes."""
    return [_compared(s, real[s.name], simulated[s.name]) for s in SHAPES]


def _compared(shape: Shape, real: FloatArray, simulated: FloatArray) -> Compared:
    ours, theirs = np.quantile(simulated, _QUANTILES), np.quantile(real, _QUANTILES)
    shared = min(ours[2], theirs[2]) - max(ours[0], theirs[0])
    return Compared(
        shape=shape,
        real=theirs,
        simulated=ours,
        kolmogorov=float(ks_2samp(real, simulated).statistic),
        covered=float(np.clip(shared / (theirs[2] - theirs[0]), 0.0, 1.0)),
    )


def as_markdown(shapes: Sequence[Compared], apart: TwoSamples) -> str:
    """Both comparisons as Markdown."""
    return "\n".join([*_shape_lines(shapes), "", *_apart_lines(apart)])


def _shape_lines(shapes: Sequence[Compared]) -> list[str]:
    covered = np.mean([c.covered for c in shapes])
    distance = np.mean([c.kolmogorov for c in shapes])
    notes = {c.shape.name: c.shape.note for c in shapes if c.shape.note}
    return [
        "Shapes of simulated players of mixed skill, as a phone's pose estimator sees them, "
        "against real shots: 10 / 50 / 90 % quantiles, Kolmogorov-Smirnov distance, and how much "
        "of the real middle 80 % lies within the simulated one. What reads 180, 0 or infinity in "
        "the real data is dropped, and what would read so from the simulated.",
        "",
        "| shape | real | simulated | K-S | covered |",
        "| --- | --- | --- | ---: | ---: |",
        *map(_row, shapes),
        f"| mean | | | {distance:.2f} | {covered:.0%} |",
        "",
        *(f"- {name}: {note}." for name, note in notes.items()),
        "",
        "Not compared, because it is not clear what was measured:",
        "",
        *(f"- {what}." for what in LEFT_OUT),
    ]


def _row(compared: Compared) -> str:
    digits = 2 if compared.shape.unit == "ratio" else 0

    def quantiles(values: FloatArray) -> str:
        return " / ".join(f"{v:.{digits}f}" for v in values)

    return (
        f"| {compared.shape.name} | {quantiles(compared.real)} | "
        f"{quantiles(compared.simulated)} | {compared.kolmogorov:.2f} | {compared.covered:.0%} |"
    )


def _apart_lines(apart: TwoSamples) -> list[str]:
    return [
        f"Classifiers that tell {apart.clips} real clips from {apart.swings} simulated ones "
        "(AUROC on held-out clips; 0.5 would mean that they can't):",
        "",
        "| classifier | all joints | limbs |",
        "| --- | ---: | ---: |",
        *(
            f"| {name} | {auroc:.3f} | {apart.limbs[name]:.3f} |"
            for name, auroc in apart.auroc.items()
        ),
        "",
        "The real clips mark hips, neck and face elsewhere than on our joints, which gives every "
        "clip away by itself. By what of the limbs the logistic regression tells them, "
        "heaviest first, is what to mend next:",
        "",
        "| feature | AUROC alone | real median | simulated median |",
        "| --- | ---: | ---: | ---: |",
        *(
            f"| {t.feature} | {t.alone:.2f} | {_short(t.real)} | {_short(t.simulated)} |"
            for t in apart.tells
        ),
    ]


def _short(value: float) -> str:
    return f"{value:.0f}" if abs(value) >= 10.0 else f"{value:.2f}"


def draw(shapes: Sequence[Compared], path: Path) -> None:
    """Draw medians and middle 80 % of real and simulated angles side by side."""
    angles = [c for c in shapes if c.shape.unit == "degrees"]
    figure = Figure(figsize=(8.0, 1.0 + _BAR * len(angles)))
    axes = figure.subplots()
    for offset, color, label in ((-0.17, "black", "real"), (0.17, "tab:orange", "simulated")):
        low, middle, high = np.array([c.real if label == "real" else c.simulated for c in angles]).T
        rows = np.arange(len(angles)) + offset
        axes.hlines(rows, low, high, color=color, linewidth=3, alpha=0.6, label=label)
        axes.plot(middle, rows, "o", color=color, markersize=4)
    axes.set_yticks(range(len(angles)), [c.shape.name for c in angles], fontsize=7)
    axes.invert_yaxis()
    axes.set_xlabel("degrees (median, 10 to 90 %)")
    axes.legend(loc="lower left")
    figure.tight_layout()
    figure.savefig(path, dpi=110)


def main(arguments: Sequence[str] | None = None) -> int:
    """Print both comparisons and, if a folder is given, write them and the plot there."""
    parser = argparse.ArgumentParser(
        prog="python -m training.evaluation.realism", description=__doc__
    )
    parser.add_argument("--out", type=Path, help="folder for realism.md and realism.png")
    parser.add_argument(
        "--make",
        choices=_MAKES,
        default=_OF_ANGLES,
        help="whose shapes; the clips told apart are always those of joint angles",
    )
    asked = parser.parse_args(arguments)
    out: Path | None = asked.out
    folder = reference_folder()
    try:
        shapes = compare(read_shots(), simulated_shapes(make=asked.make))
        text = as_markdown(shapes, tell_apart(folder))
    except FileNotFoundError:
        print(f"No reference data in {folder}; set SWING_REFERENCE_DIR.", file=sys.stderr)
        return 2
    print(text)
    if out is not None:
        out.mkdir(parents=True, exist_ok=True)
        (out / "realism.md").write_text(text + "\n", encoding="utf-8")
        draw(shapes, out / "realism.png")
    return 0


if __name__ == "__main__":
    sys.exit(main())
