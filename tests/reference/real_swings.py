"""How the service does on real, hand-annotated clips.

``python -m tests.reference.real_swings`` prints the table. The clips are the J-HMDB joint
annotations (Jhuang, Gall, Zuffi, Schmid & Black, "Towards understanding action
recognition", ICCV 2013); they are research data, stay outside the project and are found
through ``SWING_REFERENCE_DIR``.
"""

from __future__ import annotations

import json
import os
import sys
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from service.analysis.faults import CATALOGUE
from service.analysis.pose.layouts import resolve, to_points
from service.analysis.types import Status, SwingAnalysis, SwingRecording
from service.settings import Settings
from service.use_cases.analyse import Analyser

FOLDER = Path(os.environ.get("SWING_REFERENCE_DIR", "../shared/reference"))
FACE_ON = {f"golf-{n:02d}" for n in (0, 1, 9, 19, 22, 28, 29)}
"""Clips filmed face-on, by eye from drawings of the stick figures; the others are filmed
down the line."""
NEVER_SEEN = ("trail_heel_kick", "shaft_steep_at_top", "lead_wrist_cup")
"""Faults that need feet or a club, which these clips don't have."""
_VERDICTS = (Status.PRESENT, Status.UNCERTAIN, Status.ABSENT, Status.NOT_ASSESSABLE)
GRACE = 1.0
"""Frames by which a position may miss its window."""


@dataclass(frozen=True)
class Row:
    """What came out of one golf clip."""

    clip: str
    analysis: SwingAnalysis
    top_right: bool
    impact_right: bool
    view_right: bool
    unseen_kept: bool


def read(name: str) -> list[dict[str, Any]]:
    """Read one of the newline-separated JSON files."""
    return [json.loads(line) for line in (FOLDER / name).read_text().splitlines() if line]


def recording(clip: dict[str, Any]) -> SwingRecording:
    """One clip as the service would receive it."""
    values = np.array(clip["frames"], dtype=float)
    joints = resolve(clip["joint_names"])
    points, confidence = to_points(values, np.ones(values.shape[:2]), joints)
    return SwingRecording(points, confidence, np.arange(len(values)) / clip["fps"])


def golf_rows() -> list[Row]:
    """Analyse every golf clip and hold it against its event windows."""
    analyser = Analyser.of(Settings())
    events = {event["id"]: event for event in read("golf_events.ndjson")}
    return [_row(clip, events[clip["id"]], analyser) for clip in read("golf_clips.ndjson")]


def other_analyses() -> dict[str, SwingAnalysis]:
    """Analyse every clip of another action."""
    analyser = Analyser.of(Settings())
    return {c["id"]: analyser.analyse(recording(c)) for c in read("other_actions.ndjson")}


def _row(clip: dict[str, Any], event: dict[str, Any], analyser: Analyser) -> Row:
    result = analyser.analyse(recording(clip))
    frames = {p.number: p.frame for p in result.positions}
    view = result.view.value.value if result.view else None
    unseen = [f.status for f in result.findings if f.fault in NEVER_SEEN]
    return Row(
        clip["id"],
        result,
        _within(frames.get(4), event["top"]),
        _within(frames.get(7), event["impact"]),
        view == ("face_on" if clip["id"] in FACE_ON else "down_the_line"),
        bool(unseen) and all(s is Status.NOT_ASSESSABLE for s in unseen),
    )


def _within(frame: float | None, window: list[int]) -> bool:
    return frame is not None and window[0] - GRACE <= frame <= window[1] + GRACE


def _line(row: Row) -> str:
    frames = " ".join(
        f"{p.frame:5.1f}" if p.frame is not None else "    -" for p in row.analysis.positions
    )
    view = row.analysis.view.value.value if row.analysis.view else "-"
    present = [f.fault for f in row.analysis.findings if f.status is Status.PRESENT]
    marks = "".join(
        "+" if ok else "X"
        for ok in (row.top_right, row.impact_right, row.view_right, row.unseen_kept)
    )
    return f"{row.clip}  {view:13s} {frames}  {marks}  {', '.join(present)}"


def said_of(fault: str, rows: list[Row]) -> Counter[Status]:
    """How often each verdict on a fault was given."""
    return Counter(f.status for r in rows for f in r.analysis.findings if f.fault == fault)


def main() -> int:
    """Print the table."""
    if not FOLDER.is_dir():
        print(f"No reference data in {FOLDER}; set SWING_REFERENCE_DIR.", file=sys.stderr)
        return 2
    rows, others = golf_rows(), other_analyses()
    print("clip     view          P1 ... P10 (frames; + right, X wrong: P4, P7, view, unseen)")
    print("\n".join(_line(row) for row in rows))
    print("what is said by fault       present  uncertain  absent  not assessable")
    for definition in CATALOGUE:
        said = said_of(definition.name, rows)
        counts = "  ".join(f"{said[s]:>{w}}" for s, w in zip(_VERDICTS, (7, 9, 6, 14), strict=True))
        print(f"  {definition.name:26s}{counts}")
    taken = [name for name, result in others.items() if result.swing_found]
    print(f"P4 in its window            {sum(r.top_right for r in rows)} of {len(rows)}")
    print(f"P7 in its window            {sum(r.impact_right for r in rows)} of {len(rows)}")
    print(f"view right                  {sum(r.view_right for r in rows)} of {len(rows)}")
    print(f"heel and shaft left open    {sum(r.unseen_kept for r in rows)} of {len(rows)}")
    print(f"other actions taken for one {len(taken)} of {len(others)} {' '.join(taken)}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
