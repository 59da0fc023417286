"""Reviewed swings as a labelled set: who is in it, what, and nothing that names anybody."""

from __future__ import annotations

import csv
import gzip
import json
from pathlib import Path

import pytest

from service.analysis.types import CoachVerdict, Grade
from service.records import Database, Precondition
from service.records.keeping import lessons, players
from service.records.reviews import findings
from service.records.reviews.entities import NewReview
from tests.records.kept import DAY, RULES, faulty_body, keep, swing_body
from training.from_reviews import LABELS, REQUESTS, main

MARK = "unmistakable-3f9d"
CONFIRM, REJECT, UNSURE = CoachVerdict
FAULT = "long_backswing"


@pytest.fixture
def backend() -> str:
    """One database will do: both are read by the same repository."""
    return "sqlite"


@pytest.fixture
def kept(database: Database) -> list[str]:
    """Names that must not be found: of a player who consents, and of one who doesn't."""
    hidden = [MARK]
    for consents in (True, False):
        with database.writing() as session:
            player = players.add(session, MARK, note=MARK, training_consent=consents)
            lesson = lessons.add(session, player.id, DAY)
        body = json.loads(faulty_body())
        body["timestamps"] = [1_747_000_000 + t for t in body["timestamps"]]
        first = keep(database, lesson, json.dumps({**body, "client_reference": MARK}).encode())
        second = keep(database, lesson, swing_body(2, reference=MARK))
        unreviewed = keep(database, lesson, swing_body(3))
        said = [
            (first.id, FAULT, NewReview(CONFIRM, MARK, Grade.MARKED, MARK)),
            (first.id, "handle_rise", NewReview(UNSURE, MARK)),
            (second.id, FAULT, NewReview(REJECT, MARK)),
            (second.id, "chest_stall", NewReview(CONFIRM, MARK)),
        ]
        with database.writing() as session:
            for swing_id, fault, new in said:
                findings.put(session, swing_id, fault, new, Precondition())
            findings.withdraw(session, second.id, "chest_stall", MARK, None)
        hidden += [player.id, lesson.id, first.id, second.id, unreviewed.id]
    return hidden


def test_only_who_consents_is_in_it_and_only_what_was_decided(
    database: Database,
    database_url: str,
    kept: list[str],
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    out = tmp_path / "set"
    assert main(["--database", database_url, "--out", str(out)]) == 0
    assert "2 labels of 2 swings of 1 players" in capsys.readouterr().out
    with (out / LABELS).open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert sorted((r["fault"], r["label"], r["grade"]) for r in rows) == [
        (FAULT, "absent", ""),
        (FAULT, "present", "marked"),
    ]
    assert {r["group"] for r in rows} == {"1"}
    files = sorted(path.name for path in (out / REQUESTS).iterdir())
    assert files == sorted(f"{r['swing']}.json.gz" for r in rows)
    everything = (out / LABELS).read_text(encoding="utf-8") + "".join(files)
    for name in files:
        request = gzip.decompress((out / REQUESTS / name).read_bytes())
        fields = set(json.loads(request))
        assert fields <= {"layout", "timestamps", "keypoints", "view", "intent"}
        assert json.loads(request)["timestamps"][0] == 0.0
        assert not any(text.encode() in request for text in kept)
    assert not any(text in everything for text in kept)
    (present,) = [r["swing"] for r in rows if r["label"] == "present"]
    request = gzip.decompress((out / REQUESTS / f"{present}.json.gz").read_bytes())
    again = RULES.analyse_body(request)
    statuses = {f.fault: f.status for f in again.analysis.findings}
    assert statuses == {
        f.fault: f.status for f in RULES.analyse_body(faulty_body()).analysis.findings
    }


def test_a_folder_with_something_in_it_and_a_wrong_database_are_refused(
    database_url: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "older").mkdir()
    (tmp_path / "older" / LABELS).touch()
    assert main(["--database", database_url, "--out", str(tmp_path / "older")]) == 2
    assert "is not empty" in capsys.readouterr().err
    assert main(["--database", "nowhere", "--out", str(tmp_path / "new")]) == 2
    assert "can't be read" in capsys.readouterr().err
