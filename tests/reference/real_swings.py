"""How the service does on real clips: swings by three makes of keypoints, and other actions.

``python -m tests.reference.real_swings [--clips]`` prints what is found, placed and oriented right,
what other actions are taken for a swing, what is said of each fault and which targets are met;
``--clips`` adds a line for each swing. The exit status is 0 where every target is met, 1 where one
is missed and 2 without the reference data (see :mod:`tests.reference.clips`).

The gate between golf and other actions was fitted on these very clips. What a fit on one source
does on the other is printed by ``python -m tests.reference.fits.golf_likeness``.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final

from service.analysis.faults import CATALOGUE
from service.analysis.types import Status, SwingAnalysis
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
from training.evaluation.sources.rows import against_evidence

NEVER_SEEN: Final = ("trail_heel_kick", "shaft_steep_at_top", "lead_wrist_cup", "wrists_open_early")
"""Faults that need feet or a club, which the annotated clips don't have."""
GRACE: Final = 1.0
"""Frames by which a position may miss its window."""
_AT_ONCE: Final = 16
_VERDICTS: Final = (Status.PRESENT, Status.UNCERTAIN, Status.ABSENT, Status.NOT_ASSESSABLE)


@dataclass(frozen=True)
class Swing:
    """What came out of one golf clip; ``None`` where the clip's truth isn't known."""

    file: str
    clip: str
    analysis: SwingAnalysis
    top_right: bool | None
    impact_right: bool | None
    view_right: bool | None
    hand_right: bool | None

    @property
    def found(self) -> bool:
        """Whether a swing was found."""
        return self.analysis.swing_found


@dataclass(frozen=True)
class Other:
    """What came out of one clip of another action."""

    file: str
    clip: str
    action: str
    analysis: SwingAnalysis


@dataclass(frozen=True)
class Target:
    """Something the service must reach on these clips."""

    name: str
    value: float
    bound: float
    at_least: bool

    @property
    def met(self) -> bool:
        """Whether it is reached."""
        return self.value >= self.bound if self.at_least else self.value <= self.bound

    def __str__(self) -> str:
        side = "at least" if self.at_least else "at most"
        verdict = "met" if self.met else "MISSED"
        return f"{verdict:7s}{self.name}: {self.value:g} ({side} {self.bound:g})"


def swings() -> list[Swing]:
    """Analyse every golf clip and hold it against what is known of it."""
    return [_swing(name, clip, result) for name, clip, result in _analysed(GOLF)]


def others() -> list[Other]:
    """Analyse every clip of another action."""
    return [
        Other(name, clip["id"], action_of(name, clip), result)
        for name, clip, result in _analysed(OTHER)
    ]


def _analysed(names: Sequence[str]) -> Iterator[tuple[str, dict[str, Any], SwingAnalysis]]:
    """Every clip of some files with its file and its analysis, some at once, as that is faster."""
    analyser = Analyser.of(Settings())
    clips = [(name, clip) for name in names for clip in read(name)]
    for k in range(0, len(clips), _AT_ONCE):
        some = clips[k : k + _AT_ONCE]
        results = analyser.analyse_many([recording(clip) for _, clip in some])
        yield from ((*each, result) for each, result in zip(some, results, strict=True))


def _swing(name: str, clip: dict[str, Any], result: SwingAnalysis) -> Swing:
    frames = {p.number: p.frame for p in result.positions}
    event = events_of(name).get(clip["id"])
    view, hand = view_of(name, clip), clip.get("handedness_guess")
    return Swing(
        name,
        clip["id"],
        result,
        top_right=_within(frames.get(4), event["top"]) if event else None,
        impact_right=_within(frames.get(7), event["impact"]) if event else None,
        view_right=result.view.value == view if view and result.view else None,
        hand_right=result.handedness.value == hand if hand and result.handedness else None,
    )


def _within(frame: float | None, window: Sequence[int]) -> bool:
    return frame is not None and window[0] - GRACE <= frame <= window[1] + GRACE


def targets(golf: Sequence[Swing], other: Sequence[Other]) -> list[Target]:
    """What must be reached, with what is."""
    views = [s.view_right for s in golf if s.view_right is not None]
    bats = [o for o in other if o.action in BATS]
    rest = [o for o in other if o.action not in BATS]
    estimated = [o for o in rest if o.file == "estimated_other_actions"]
    against = sum(against_evidence(f) for s in golf for f in s.analysis.findings)
    return [
        *(
            Target(f"found, {name}", _count(golf, name, lambda s: s.found), bound, at_least=True)
            for name, bound in (("golf_clips", 30), ("golf_clips_2", 83))
        ),
        Target(
            "found, estimated_golf_clips",
            _count(golf, "estimated_golf_clips", lambda s: s.found),
            28,
            at_least=True,
        ),
        *(
            Target(f"{what} in its window, {name}", _count(golf, name, right), bound, at_least=True)
            for name, bound in (("golf_clips", 29), ("golf_clips_2", 78))
            for what, right in (("P4", _top_right), ("P7", _impact_right))
        ),
        Target("view right, %", 100 * sum(views) / len(views), 96, at_least=True),
        Target("bat swings taken for golf, %", _share_taken(bats), 15, at_least=False),
        Target("other actions taken for golf, %", _share_taken(rest), 1, at_least=False),
        Target(
            "of them through the estimator",
            sum(o.analysis.swing_found for o in estimated),
            1,
            at_least=False,
        ),
        Target("verdicts against their own evidence", against, 0, at_least=False),
    ]


def _top_right(swing: Swing) -> bool:
    return swing.top_right is True


def _impact_right(swing: Swing) -> bool:
    return swing.impact_right is True


def _count(golf: Sequence[Swing], name: str, right: Callable[[Swing], bool]) -> int:
    return sum(right(s) for s in golf if s.file == name)


def _share_taken(other: Sequence[Other]) -> float:
    return 100 * sum(o.analysis.swing_found for o in other) / len(other)


def said_of(fault: str, golf: Sequence[Swing]) -> Counter[Status]:
    """How often each verdict on a fault was given."""
    return Counter(f.status for s in golf for f in s.analysis.findings if f.fault == fault)


def _of_file(name: str, golf: Sequence[Swing]) -> Iterator[str]:
    mine = [s for s in golf if s.file == name]
    yield f"{name}: {sum(s.found for s in mine)} of {len(mine)} found"
    for what, told in (
        ("P4 in its window", [s.top_right for s in mine]),
        ("P7 in its window", [s.impact_right for s in mine]),
        ("view right", [s.view_right for s in mine]),
        ("handedness as guessed", [s.hand_right for s in mine]),
    ):
        known = [t for t in told if t is not None]
        if known:
            yield f"  {what:22s}{sum(known)} of {len(known)}"
    for s in mine:
        if s.analysis.reason:
            yield f"  {s.clip} not found: {s.analysis.reason.code}"


def _faults(golf: Sequence[Swing]) -> Iterator[str]:
    yield "what is said by fault       present  uncertain  absent  not assessable  against evidence"
    for name in CATALOGUE:
        said = said_of(name, golf)
        counts = "  ".join(f"{said[s]:>{w}}" for s, w in zip(_VERDICTS, (7, 9, 6, 14), strict=True))
        findings = [f for s in golf for f in s.analysis.findings if f.fault == name]
        yield f"  {name:26s}{counts}  {sum(map(against_evidence, findings)):>16}"


def _taken(other: Sequence[Other]) -> Iterator[str]:
    yield "other actions taken for a golf swing"
    for name, action in sorted({(o.file, o.action) for o in other}):
        mine = [o for o in other if (o.file, o.action) == (name, action)]
        taken = [o.clip for o in mine if o.analysis.swing_found]
        yield f"  {name:24s}{action:16s}{len(taken):3d} of {len(mine):3d}  {' '.join(taken)}"


def _line(swing: Swing) -> str:
    said = swing.analysis
    view = said.view.value.value if said.view else "-"
    hand = said.handedness.value.value if said.handedness else "-"
    frames = " ".join(f"{p.frame:5.1f}" if p.frame is not None else "    -" for p in said.positions)
    told = (swing.top_right, swing.impact_right, swing.view_right, swing.hand_right)
    marks = "".join({True: "+", False: "X", None: "."}[right] for right in told)
    present = ", ".join(f.fault for f in said.findings if f.status is Status.PRESENT)
    return f"{swing.file:21s}{swing.clip:16s}{view:14s}{hand:6s}{frames}  {marks}  {present}"


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the tables."""
    parser = argparse.ArgumentParser(prog="python -m tests.reference.real_swings")
    parser.add_argument("--clips", action="store_true", help="a line for each swing too")
    asked = parser.parse_args(arguments)
    if not available():
        print(f"No reference data in {FOLDER}; set SWING_REFERENCE_DIR.", file=sys.stderr)
        return 2
    golf, other = swings(), others()
    if asked.clips:
        print("P1 ... P10 in frames; + right, X wrong, . not known: P4, P7, view, handedness")
        print("\n".join(map(_line, golf)))
    for name in GOLF:
        print("\n".join(_of_file(name, golf)))
    print("\n".join(_taken(other)))
    for name in GOLF:
        print(f"{name}: ", end="")
        print("\n".join(_faults([s for s in golf if s.file == name])))
    reached = targets(golf, other)
    print("\n".join(map(str, reached)))
    return 0 if all(target.met for target in reached) else 1


if __name__ == "__main__":
    sys.exit(main())
