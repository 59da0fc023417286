"""How the answers to real clips hold when the clips are changed a little.

``python -m tests.reference.perturbations.real [--clips]`` changes every real clip as another of its
kind would differ (:mod:`tests.reference.perturbations`) and prints for each change, summed over all
swings, how many are found, where P4 and P7 lie, how often view and hand are the same as before, how
often a decided verdict turned into its opposite, how many faults are told that were not told
before, how many verdicts are decided, and how many other actions are taken for a swing. It
estimates what clips nobody has seen yet will do. ``--clips`` names what changed.
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
    FOLDER,
    GOLF,
    OTHER,
    action_of,
    available,
    events_of,
    read,
    recording,
    view_of,
)
from tests.reference.perturbations import PERTURBATIONS, Film, Perturbation

_SEED: Final = 5
_GRACE: Final = 1.0
"""Frames of the film as it was by which a position may miss its window."""


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


@dataclass(frozen=True)
class Changed:
    """A clip once it is changed, and what is said of it then."""

    film: Film
    said: SwingAnalysis


def changed(clips: Sequence[Seen], by: Perturbation, analyser: Analyser) -> list[Changed]:
    """Each clip changed and analysed."""
    rng = np.random.default_rng(_SEED)
    films = [by.film(c.recording, c.said, rng) for c in clips]
    said = analyser.analyse_many([film.recording for film in films])
    return [Changed(film, each) for film, each in zip(films, said, strict=True)]


def flips(before: SwingAnalysis, after: SwingAnalysis) -> list[str]:
    """Faults whose verdict turned from present to absent or back."""
    first = {f.fault: f.status for f in before.findings if f.status.is_decided}
    then = {f.fault: f.status for f in after.findings if f.status.is_decided}
    return [fault for fault in first if fault in then and first[fault] is not then[fault]]


def placed(clip: Seen, event: dict[str, Any], after: Changed) -> list[bool]:
    """Whether P4 and P7 lie in their windows, told by the times of the film as it was."""
    times = {p.number: p.time for p in after.said.positions}
    frame = float(np.median(np.diff(clip.recording.times)))
    film = after.film
    return [
        (time := times.get(number)) is not None
        and event[key][0] - _GRACE
        <= np.interp(time, film.recording.times, film.clock) / frame
        <= event[key][1] + _GRACE
        for number, key in ((4, "top"), (7, "impact"))
    ]


def raised(before: SwingAnalysis, after: SwingAnalysis) -> list[str]:
    """Faults that were not told as present and now are."""
    first = {f.fault for f in before.findings if f.status is Status.PRESENT}
    return [f.fault for f in after.findings if f.status is Status.PRESENT and f.fault not in first]


def _golf_line(clips: Sequence[Seen], after: Sequence[Changed], by: Perturbation) -> str:
    found = dict.fromkeys(GOLF, 0)
    right = np.zeros((0, 2))
    view, hand, turned, new, kept = [], [], 0, 0, 0
    windows = {name: events_of(name) for name in GOLF}
    for c, changed in zip(clips, after, strict=True):
        a = changed.said
        found[c.file] += a.swing_found
        event = windows[c.file].get(c.clip["id"])
        if event:
            right = np.vstack([right, placed(c, event, changed)])
        if a.view and a.handedness and c.said.handedness:
            asked = view_of(c.file, c.clip)
            view += [a.view.value == asked] if asked else []
            same = a.handedness.value == c.said.handedness.value
            hand.append(same is not by.mirrored)
            turned += len(flips(c.said, a))
            new += len(raised(c.said, a))
            kept += sum(f.status.is_decided for f in a.findings)
    told = " ".join(f"{found[name]:4d}" for name in GOLF)
    return (
        f"{told}{right[:, 0].sum():6.0f}{right[:, 1].sum():5.0f}{_percent(view)}{_percent(hand)}"
        f"{turned:7d}{new:5d}{kept:6d}"
    )


def _percent(right: Sequence[bool]) -> str:
    return f"{100 * sum(right) / len(right):7.1f}" if right else f"{'-':>7s}"


def _other_line(clips: Sequence[Seen], after: Sequence[Changed]) -> str:
    taken = [
        (c.file, action_of(c.file, c.clip) in BATS)
        for c, changed in zip(clips, after, strict=True)
        if changed.said.swing_found
    ]
    bats = sum(bat for _, bat in taken)
    estimated = sum(file == "estimated_other_actions" and not bat for file, bat in taken)
    return f"{bats:6d}{len(taken) - bats:6d}{estimated:6d}"


def _named(clips: Sequence[Seen], after: Sequence[Changed]) -> Iterator[str]:
    for c, changed in zip(clips, after, strict=True):
        a = changed.said
        if a.swing_found is not c.said.swing_found:
            yield f"    {c.name} {'found' if a.swing_found else 'not found'}"
        elif a.swing_found:
            remarks = ", ".join(remark.code for remark in a.quality.remarks)
            yield from (f"    {c.name} {fault} turned [{remarks}]" for fault in flips(c.said, a))
            yield from (f"    {c.name} {fault} is new [{remarks}]" for fault in raised(c.said, a))


HEADER: Final = (
    f"{'change':36s}found of 30 89 30  P4   P7 view %  hand % turned  new told   bats other est."
)


def report(*, golf_only: bool = False, clips: bool = False, only: str = "") -> Iterator[str]:
    """A line for each change whose name holds ``only``."""
    analyser = Analyser.of(Settings())
    golf = seen(GOLF, analyser)
    other = [] if golf_only else seen(OTHER, analyser)
    yield HEADER
    for name, by in PERTURBATIONS.items():
        if only not in name:
            continue
        of_golf, of_other = changed(golf, by, analyser), changed(other, by, analyser)
        yield f"{name:36s}{_golf_line(golf, of_golf, by)}{_other_line(other, of_other)}"
        if clips:
            yield from _named(golf, of_golf)
            yield from _named(other, of_other)


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the table."""
    parser = argparse.ArgumentParser(prog="python -m tests.reference.perturbations.real")
    parser.add_argument("--clips", action="store_true", help="name the clips whose answer changed")
    parser.add_argument("--golf", action="store_true", help="golf clips alone")
    parser.add_argument("--only", default="", help="changes whose name holds this alone")
    asked = parser.parse_args(arguments)
    if not available():
        print(f"No reference data in {FOLDER}; set SWING_REFERENCE_DIR.", file=sys.stderr)
        return 2
    for line in report(golf_only=asked.golf, clips=asked.clips, only=asked.only):
        print(line, flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
