"""How the answers to real clips hold when the clips are changed a little.

``python -m tests.reference.perturbed [--clips]`` changes every real clip as another of its kind
would differ (:mod:`tests.reference.perturbations`) and prints for each change, summed over all
swings, how many are found, where P4 and P7 lie, how often view and hand are the same as before, how
often a decided verdict turned into its opposite, and how many other actions are taken for a swing.
It estimates what clips nobody has seen yet will do. ``--clips`` names what changed.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from service.analysis.types import Status, SwingAnalysis, SwingRecording
from service.settings import Settings
from service.use_cases.analyse import Analyser
from tests.reference.clips import (
    BATS,
    EVENTS,
    FOLDER,
    GOLF,
    OTHER,
    action_of,
    available,
    read,
    recording,
    view_of,
)
from tests.reference.perturbations import PERTURBATIONS, Perturbation

_SEED: Final = 5
_GRACE: Final = 1.0
"""Frames of the film as it was by which a position may miss its window."""
_DECIDED: Final = (Status.PRESENT, Status.ABSENT)


@dataclass(frozen=True)
class Seen:
    """A clip and what is said of it as it is."""

    file: str
    clip: dict[str, Any]
    recording: SwingRecording
    said: SwingAnalysis

    @property
    def name(self) -> str:
        """Its file and its number."""
        return f"{self.file} {self.clip['id']}"


def seen(names: Sequence[str], analyser: Analyser) -> list[Seen]:
    """Every clip of some files."""
    rows = ((name, clip, recording(clip)) for name in names for clip in read(name))
    return [Seen(name, clip, whole, analyser.analyse(whole)) for name, clip, whole in rows]


def changed(clips: Sequence[Seen], by: Perturbation, analyser: Analyser) -> list[SwingAnalysis]:
    """What is said of each clip once it is changed."""
    rng = np.random.default_rng(_SEED)
    made = [by.change(c.recording, c.said, rng) for c in clips]
    return [analyser.analyse(each) for each in made]


def flips(before: SwingAnalysis, after: SwingAnalysis) -> list[str]:
    """Faults whose verdict turned from present to absent or back."""
    first = {f.fault: f.status for f in before.findings if f.status in _DECIDED}
    then = {f.fault: f.status for f in after.findings if f.status in _DECIDED}
    return [fault for fault in first if fault in then and first[fault] is not then[fault]]


def _windows(name: str) -> dict[str, dict[str, Any]]:
    return {event["id"]: event for event in read(EVENTS[name])} if name in EVENTS else {}


def placed(clip: Seen, event: dict[str, Any], after: SwingAnalysis, rate: float) -> list[bool]:
    """Whether P4 and P7 lie in their windows, told by the times of the film as it was."""
    times = {p.number: p.time for p in after.positions}
    frame = float(np.median(np.diff(clip.recording.times)))
    return [
        (time := times.get(number)) is not None
        and event[key][0] - _GRACE <= time * rate / frame <= event[key][1] + _GRACE
        for number, key in ((4, "top"), (7, "impact"))
    ]


def _golf_line(clips: Sequence[Seen], after: Sequence[SwingAnalysis], by: Perturbation) -> str:
    found = dict.fromkeys(GOLF, 0)
    right = np.zeros((0, 2))
    view, hand, turned, kept, decided = [], [], 0, 0, 0
    windows = {name: _windows(name) for name in GOLF}
    for c, a in zip(clips, after, strict=True):
        found[c.file] += a.swing_found
        event = windows[c.file].get(c.clip["id"])
        if event:
            right = np.vstack([right, placed(c, event, a, by.rate)])
        if a.view and a.handedness and c.said.handedness:
            asked = view_of(c.file, c.clip)
            view += [a.view.value == asked] if asked else []
            same = a.handedness.value == c.said.handedness.value
            hand.append(same is not by.mirrored)
            turned += len(flips(c.said, a))
            kept += sum(f.status in _DECIDED for f in a.findings)
        decided += sum(f.status in _DECIDED for f in c.said.findings)
    told = " ".join(f"{found[name]:4d}" for name in GOLF)
    return (
        f"{told}{right[:, 0].sum():6.0f}{right[:, 1].sum():5.0f}"
        f"{100 * np.mean(view):7.1f}{100 * np.mean(hand):7.1f}{turned:5d}{kept:6d}"
    )


def _other_line(clips: Sequence[Seen], after: Sequence[SwingAnalysis]) -> str:
    taken = [
        (c.file, action_of(c.file, c.clip) in BATS)
        for c, a in zip(clips, after, strict=True)
        if a.swing_found
    ]
    bats = sum(bat for _, bat in taken)
    estimated = sum(file == "estimated_other_actions" and not bat for file, bat in taken)
    return f"{bats:6d}{len(taken) - bats:6d}{estimated:6d}"


def _named(clips: Sequence[Seen], after: Sequence[SwingAnalysis]) -> Iterator[str]:
    for c, a in zip(clips, after, strict=True):
        if a.swing_found is not c.said.swing_found:
            yield f"    {c.name} {'found' if a.swing_found else 'not found'}"
        elif a.swing_found:
            yield from (f"    {c.name} {fault} turned" for fault in flips(c.said, a))


HEADER: Final = (
    f"{'change':32s}found of 30 89 30    P4   P7  view %  hand % turned told   bats other est."
)


def report(*, golf_only: bool = False, clips: bool = False) -> Iterator[str]:
    """A line for each change."""
    analyser = Analyser.of(Settings())
    golf = seen(GOLF, analyser)
    other = [] if golf_only else seen(OTHER, analyser)
    yield HEADER
    for name, by in PERTURBATIONS.items():
        of_golf, of_other = changed(golf, by, analyser), changed(other, by, analyser)
        yield f"{name:32s}{_golf_line(golf, of_golf, by)}{_other_line(other, of_other)}"
        if clips:
            yield from _named(golf, of_golf)
            yield from _named(other, of_other)


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the table."""
    parser = argparse.ArgumentParser(prog="python -m tests.reference.perturbed")
    parser.add_argument("--clips", action="store_true", help="name the clips whose answer changed")
    parser.add_argument("--golf", action="store_true", help="golf clips alone")
    asked = parser.parse_args(arguments)
    if not available():
        print(f"No reference data in {FOLDER}; set SWING_REFERENCE_DIR.", file=sys.stderr)
        return 2
    for line in report(golf_only=asked.golf, clips=asked.clips):
        print(line, flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
