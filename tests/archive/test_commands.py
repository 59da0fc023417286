"""The commands themselves: what they print, and what they exit with."""

from __future__ import annotations

import json
import os
import shutil
from html import escape
from pathlib import Path

import pytest

from service.__main__ import main
from tests.archive.made import ndjson, request, short_request


def run(*arguments: object) -> int:
    return main([str(argument) for argument in arguments])


def test_the_commands_tell_what_was_done_and_what_could_not_be_read(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    archive, out = tmp_path / "archive", tmp_path / "out"
    archive.mkdir()
    lines = ndjson(short_request(), {**request(), "coach": "<Ada>"}) + b"{\n"
    untold = {**short_request(), "timestamps": None}
    (archive / "b.ndjson").write_bytes(ndjson(untold) + b"\n\n" + ndjson(untold))
    (archive / "c.json").write_bytes(json.dumps(untold).encode())
    (archive / "a.ndjson").write_bytes(lines)
    assert run("tag", archive, "--out", out, "--workers", 1) == 0
    told = capsys.readouterr()
    assert "6 inputs in 3 files" in told.out
    assert "2 read; a golf swing found in 1" in told.out
    assert "are copies" not in told.out
    assert "3 invalid-request in 2 files, as b.ndjson:1: fps is missing" in told.out
    assert "1 malformed-json, as a.ndjson:3: is not JSON" in told.out
    assert "--assume fps=VALUE" in told.out
    assert "swing/s" in told.err
    assert run("tag", archive, "--out", out, "--workers", 1) == 0
    assert "nothing was added, changed or taken away" in capsys.readouterr().out
    (archive / "c.json").unlink()
    (archive / "d.json").write_text(json.dumps({**untold, "fps": 1e6}))
    assert run("tag", archive, "--out", out, "--workers", 1) == 0
    told = capsys.readouterr()
    assert "5 kept from before, 1 done now" in told.out
    assert "since then files 1 added, 1 gone\n    gone: c.json" in told.out
    (archive / "a.mov").write_bytes(b"")
    assert run("tag", archive, "--out", out, "--workers", 1) == 0
    capsys.readouterr()
    page = tmp_path / "page.html"
    assert run("summary", out, "--by", "coach", "--html", page) == 0
    summed = capsys.readouterr().out
    assert "<Ada>: 1 swing\n" in summed
    assert "Passed over: 1 .mov. Films become swings by" in summed
    assert "What could not be read, and why, is written as a table by --csv FOLDER." in summed
    _assert_draws_and_fetches_nothing(page.read_text(encoding="utf-8"), "<Ada>")
    assert run("summary", out, "--lang", "de") == 0
    assert "Was nicht zu lesen war und warum, schreibt --csv" in capsys.readouterr().out
    assert run("summary", out, "--by", "colour") == 2
    assert "there are coach, view" in capsys.readouterr().err


def _assert_draws_and_fetches_nothing(page: str, name: str) -> None:
    """A page with a picture, on which a name that looks like a tag is text."""
    assert "<svg" in page
    assert escape(name) in page
    assert name not in page
    assert "http" not in page.replace('xmlns="http://www.w3.org/2000/svg"', "")
    assert "<script" not in page


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["tag", "no-such-folder", "--out", "out"], "is no folder"),
        (["summary", "no-such-folder"], "holds no results"),
        (["retag", "results"], "give RESULTS, ARCHIVE and --out NEW"),
        (["retag", "--kept"], "SWING_DATABASE_URL is empty"),
        (["tag", ".", "--out", os.fsdecode(b"\xff")], "has a name that is no UTF-8"),
        (["tag", ".", "--convert", "out", "--keep", "player"], "--keep goes with --out"),
    ],
)
def test_what_can_not_be_done_exits_with_2_and_says_why(
    arguments: list[str], said: str, capsys: pytest.CaptureFixture[str],
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    monkeypatch.chdir(tmp_path)
    assert main(arguments) == 2
    assert said in capsys.readouterr().err


def test_workers_of_other_machines_keep_nothing_in_a_file_of_their_own(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SWING_DATABASE_URL", "sqlite:///records.db")
    scheduler = ("--scheduler", "tcp://127.0.0.1:1")
    assert run("tag", tmp_path, "--out", "out", "--keep", "player", *scheduler) == 2
    assert "a database that every machine reaches" in capsys.readouterr().err


@pytest.mark.parametrize("wrong", ["fps", "colour=red"])
def test_what_can_not_be_assumed_is_refused(wrong: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["tag", ".", "--out", "out", "--assume", wrong])
    assert "FIELD=VALUE" in capsys.readouterr().err


def test_what_is_carried_under_nearly_the_name_of_a_field_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    archive, out = tmp_path / "archive", tmp_path / "out"
    archive.mkdir()
    lines = (
        {**short_request(24), "handednes": "left", "coach": "Ada"},
        {**short_request(25), "handednes": "right", "Vieww": "face_on", "time": "10:30", "id": 7},
    )
    (archive / "a.ndjson").write_bytes(ndjson(*lines))
    assert run("tag", archive, "--out", out, "--workers", 1) == 0
    told = capsys.readouterr().out
    assert (
        "2 carry along 'handednes', which is no field of a swing; did you mean handedness?" in told
    )
    assert "1 carries along 'Vieww', which is no field of a swing; did you mean view?" in told
    assert told.count("which is no field") == 2
    assert told.startswith("2 inputs in 1 file\n")
    (archive / "a.ndjson").write_bytes(ndjson(lines[0]))
    assert run("tag", archive, "--out", out, "--workers", 1) == 0
    assert capsys.readouterr().out.startswith("1 input in 1 file\n")


def test_swings_that_an_archive_holds_twice_are_told_with_the_place_of_the_first_copy(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    archive, out = tmp_path / "archive", tmp_path / "out"
    archive.mkdir()
    (archive / "a.json").write_bytes(json.dumps(short_request(24)).encode())
    (archive / "b.ndjson").write_bytes(
        ndjson(short_request(25), short_request(24), short_request(25)) + b"{\n{\n"
    )
    assert run("tag", archive, "--out", out, "--workers", 1, "--partition", 2) == 0
    told = capsys.readouterr().out
    assert "2 of them, the first b.ndjson:2, are copies of others before them, word for" in told
    assert "2 malformed-json in 1 file, as b.ndjson:4: is not JSON" in told
    assert run("summary", out, "--html", tmp_path / "page.html") == 0
    for each in (capsys.readouterr().out, (tmp_path / "page.html").read_text("utf-8")):
        assert "2 clips are copies of others, word for word, and counted too" in each
    assert run("summary", out, "--lang", "de") == 0
    assert "2 Filme sind Wort für Wort Kopien anderer und mitgezählt" in capsys.readouterr().out
    (archive / "b.ndjson").write_bytes(ndjson(short_request(24)))
    assert run("tag", archive, "--out", out, "--workers", 1, "--partition", 2) == 0
    assert "1 of them, b.ndjson:1, is a copy of another before it" in capsys.readouterr().out
    shutil.rmtree(out / "_seen")
    assert run("summary", out) == 2
    assert "part-000000.parquet is damaged or gone" in capsys.readouterr().err
