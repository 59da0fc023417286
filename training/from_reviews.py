"""Reviewed swings as a labelled set.

``python -m training.from_reviews --database URL --out FOLDER`` writes it.

Only swings of players who consent, and of these only what coaches decided. Nothing that could name
anybody is written: swings and players get random names, swings stand in random order, and of a
request only the points, their times from zero and what view, hand, intent and club were told.
"""

from __future__ import annotations

import argparse
import csv
import gzip
import json
import math
import secrets
import sys
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
from sqlalchemy.orm import Session

from service.analysis.pose.points import ANATOMICAL
from service.analysis.types import CoachVerdict, SwingRecording
from service.intake.errors import InvalidRequest, MalformedJson, TooLarge
from service.records import Database, RecordsError
from service.records.keeping import swings
from service.records.reviews import findings
from service.records.reviews.entities import Label
from service.use_cases.history import recording_of

LABELS: Final[str] = "labels.csv"
REQUESTS: Final[str] = "requests"
_COLUMNS: Final = ("swing", "group", "fault", "label", "grade")
_SAYS: Final = {CoachVerdict.CONFIRM: "present", CoachVerdict.REJECT: "absent"}
_DECIMALS: Final[int] = 4


@dataclass(frozen=True)
class Exported:
    """How much was written; ``unsure`` labels were left out as their coaches could not tell."""

    swings: int
    groups: int
    labels: int
    unsure: int
    unreadable: int


def export(session: Session, folder: Path) -> Exported:
    """Write every reviewed swing of the players who consent.

    ``requests/NAME.json.gz`` is the swing as a request that can be analysed; ``labels.csv`` has a
    row for each fault that a coach decided on: the swing's name, the player's group, the fault,
    ``present`` or ``absent``, and the coach's grade, empty without one.

    Parameters
    ----------
    folder
        New or empty.

    Raises
    ------
    FileExistsError
        When there is something in the folder, which an older export may be: its players may not
        consent any more.
    RecordsError
        When the database fails.
    """
    if folder.exists() and any(folder.iterdir()):
        raise FileExistsError(f"{folder} is not empty: name a new folder, or empty it")
    (folder / REQUESTS).mkdir(parents=True, exist_ok=True)
    labels = findings.labels(session)
    told = _by_swing([label for label in labels if label.verdict in _SAYS])
    groups = _random_numbers({label.player_id for of_swing in told.values() for label in of_swing})
    rows: list[tuple[object, ...]] = []
    seen: set[int] = set()
    unreadable = 0
    for swing_id in _shuffled(list(told)):
        try:
            request = _request(session, swing_id)
        except (InvalidRequest, MalformedJson, TooLarge):
            unreadable += 1
            continue
        name = secrets.token_hex(8)
        (folder / REQUESTS / f"{name}.json.gz").write_bytes(gzip.compress(request, mtime=0))
        for label in told[swing_id]:
            group = groups[label.player_id]
            grade = "" if label.grade is None else label.grade.value
            rows.append((name, group, label.fault, _SAYS[label.verdict], grade))
            seen.add(group)
    with (folder / LABELS).open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(_COLUMNS)
        writer.writerows(rows)
    n_told = sum(len(of_swing) for of_swing in told.values())
    return Exported(len(told) - unreadable, len(seen), len(rows), len(labels) - n_told, unreadable)


def _by_swing(labels: Sequence[Label]) -> dict[str, list[Label]]:
    found: dict[str, list[Label]] = defaultdict(list)
    for label in labels:
        found[label.swing_id].append(label)
    return found


def _random_numbers(ids: set[str]) -> dict[str, int]:
    """A number for each id, in an order that says nothing of them."""
    return {each: number for number, each in enumerate(_shuffled(sorted(ids)), start=1)}


def _shuffled(items: list[str]) -> list[str]:
    secrets.SystemRandom().shuffle(items)
    return items


def _request(session: Session, swing_id: str) -> bytes:
    """A kept swing as a request with nothing in it that could name anybody."""
    swing = swings.get(session, swing_id)
    body = swings.requests_of(session, [swing_id])[swing_id]
    recording = recording_of(body, swing)
    request = {
        "layout": list(ANATOMICAL),
        "timestamps": np.round(recording.times - recording.times[0], 6).tolist(),
        "keypoints": _points(recording),
        "view": recording.view,
        "handedness": recording.handedness,
        "intent": recording.intent,
        "club": recording.club,
    }
    text = json.dumps({name: value for name, value in request.items() if value is not None})
    return text.encode()


def _points(recording: SwingRecording) -> list[list[list[float] | None]]:
    table = np.concatenate([recording.points, recording.confidence[..., None]], axis=-1)
    rounded = table.round(_DECIMALS).tolist()
    return [[None if math.isnan(point[0]) else point for point in frame] for frame in rounded]


def main(arguments: Sequence[str] | None = None) -> int:
    """Export reviewed swings as a labelled set; 0, or 2 where that failed."""
    parser = argparse.ArgumentParser(prog="training.from_reviews", description=main.__doc__)
    parser.add_argument("--database", required=True, help="the SQLAlchemy URL of the records")
    parser.add_argument("--out", required=True, type=Path, help="a folder, new or empty")
    wanted = parser.parse_args(arguments)
    try:
        database = Database(wanted.database)
        try:
            with database.reading() as session:
                done = export(session, wanted.out)
        finally:
            database.close()
    except (RecordsError, OSError) as error:
        print(error, file=sys.stderr)
        return 2
    print(
        f"{done.labels} labels of {done.swings} swings of {done.groups} players in {wanted.out}; "
        f"left out: {done.unsure} of which the coach was unsure, {done.unreadable} swings that "
        "can't be read any more."
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
