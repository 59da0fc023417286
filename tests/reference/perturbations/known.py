"""What changed clips are told of where the truth is known: simulated and replayed swings.

``python -m tests.reference.perturbations.known [--golfers N] [--clips] [--only PART_OF_A_NAME]``
films golfers of three makes and the motion captures with faults put on them, from both sides,
changes the clips as ``tests.reference.perturbations.real`` changes real ones and prints for each
change how many swings are found, how many verdicts are decided and how many of them are wrong:
present where the truth is short of the threshold by more than its grey zone, or absent where it is
as far beyond. ``--clips`` names those that are right of the clip as it was.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from service.analysis.faults import CATALOGUE
from service.analysis.types import FloatArray, Status, SwingAnalysis, SwingRecording
from service.settings import Settings
from service.use_cases.analyse import Analyser
from tests.reference.clips import FOLDER
from tests.reference.motion_capture.captured import captured
from tests.reference.motion_capture.replayed import replayed
from tests.reference.perturbations import PERTURBATIONS
from training.data.sources import Clip, clips_of
from training.data.truth import truth_of

_MAKES: Final = ("joint angles", "shifted", "keyed")
_SEED: Final = 77


@dataclass(frozen=True)
class Known:
    """A clip and how far beyond its threshold each fault truly is, in half-widths of the grey zone,
    in the order of the catalogue; NaN where it can't be told."""

    name: str
    recording: SwingRecording
    margins: FloatArray


def known(golfers: int) -> list[Known]:
    """Clips of so many golfers of each make, and as many of captured swings played again."""
    named = [
        (f"{make} {number}", clip)
        for make in _MAKES
        for number in range(golfers)
        for clip in clips_of(make, "test", _SEED, number)
    ]
    named += [(f"replayed {k}", clip) for k in range(2 * golfers) for clip in replayed(_SEED, k)]
    return [_known(name, clip) for name, clip in named]


def _known(name: str, clip: Clip) -> Known:
    told = f"{name} {clip.view.value}"
    return Known(told, clip.recording, truth_of(clip.motion, clip.view).margin)


def wrong(said: SwingAnalysis, clip: Known) -> list[str]:
    """Faults whose verdict is wrong beyond the grey zone."""
    truth = dict(zip(CATALOGUE, clip.margins.tolist(), strict=True))
    return [
        f"{finding.fault} {finding.status.value}"
        for finding in said.findings
        if (finding.status is Status.PRESENT and truth[finding.fault] < -1.0)
        or (finding.status is Status.ABSENT and truth[finding.fault] > 1.0)
    ]


def report(golfers: int, *, clips: bool = False, only: str = "") -> Iterator[str]:
    """A line for each change whose name holds ``only``."""
    analyser, films = Analyser.of(Settings()), known(golfers)
    before = analyser.analyse_many([clip.recording for clip in films])
    yield f"{'change':36s}found of {len(films)}  decided  wrong  wrong only now"
    for name, by in PERTURBATIONS.items():
        if only not in name:
            continue
        rng = np.random.default_rng(_SEED)
        made = [
            by.film(c.recording, said, rng).recording for c, said in zip(films, before, strict=True)
        ]
        after = analyser.analyse_many(made)
        new, total = list[str](), 0
        for clip, first, said in zip(films, before, after, strict=True):
            amiss, was = wrong(said, clip), wrong(first, clip)
            total += len(amiss)
            new += [f"    {clip.name}: {fault}" for fault in amiss if fault not in was]
        found = sum(said.swing_found for said in after)
        decided = sum(f.status.is_decided for said in after for f in said.findings)
        yield f"{name:36s}{found:12d}{decided:9d}{total:7d}{len(new):16d}"
        if clips:
            yield from new


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the table."""
    parser = argparse.ArgumentParser(prog="python -m tests.reference.perturbations.known")
    parser.add_argument("--golfers", type=int, default=5, help="of each make")
    parser.add_argument("--clips", action="store_true", help="name what is wrong only now")
    parser.add_argument("--only", default="", help="changes whose name holds this alone")
    asked = parser.parse_args(arguments)
    try:
        captured()
    except FileNotFoundError:
        print(f"No reference data in {FOLDER}; set SWING_REFERENCE_DIR.", file=sys.stderr)
        return 2
    for line in report(asked.golfers, clips=asked.clips, only=asked.only):
        print(line, flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
