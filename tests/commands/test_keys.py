"""Academies and keys from the command line."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from service.__main__ import main


@pytest.fixture(autouse=True)
def _records(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SWING_DATABASE_URL", f"sqlite:///{tmp_path / 'records.db'}")


def _said(capsys: pytest.CaptureFixture[str], *arguments: str) -> list[str]:
    assert main(arguments) == 0
    return capsys.readouterr().out.splitlines()


def test_a_key_is_made_listed_without_its_secret_rotated_and_revoked(
    capsys: pytest.CaptureFixture[str],
) -> None:
    _said(capsys, "academies", "create", "North")
    made = ("keys", "create", "--academy", "North", "--scopes", "read,write", "--name", "desk")
    (key,) = _said(capsys, *made)
    prefix, _, secret = key.rpartition("_")
    (line,) = _said(capsys, "keys", "list")
    assert line.startswith(f"{prefix}  good  until ")
    assert line.endswith("  North  read,write  desk")
    assert secret not in line
    (new,) = _said(capsys, "keys", "rotate", prefix, "--grace-hours", "0")
    assert new != key
    old, fresh = _said(capsys, "keys", "list", "--academy", "North")
    assert old.startswith(f"{prefix}  ended  ")
    assert fresh.startswith(f"{new.rpartition('_')[0]}  good  ")
    _said(capsys, "keys", "revoke", new.rpartition("_")[0])
    assert "  ended  revoked " in _said(capsys, "keys", "list")[1]
    assert _said(capsys, "keys", "list", "--academy", "default") == []


def test_where_there_is_no_key_the_list_says_so_and_of_which_database(
    capsys: pytest.CaptureFixture[str],
) -> None:
    _said(capsys, "academies", "create", "North")
    assert main(["keys", "list"]) == 0
    said = capsys.readouterr()
    assert said.out == ""
    assert f"no keys in {os.environ['SWING_DATABASE_URL']}" in said.err


@pytest.mark.parametrize(
    "command", [["keys", "list"], ["keys", "revoke", "x"], ["academies", "list"], ["purge"]]
)
def test_what_reads_a_database_names_one_that_is_not_there_and_makes_none(
    command: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "records.db"
    assert main(command) == 2
    assert f"there is no database {file}" in capsys.readouterr().err
    assert not file.exists()
    file.write_bytes(b"no database" * 100)
    assert main(command) == 2
    said = capsys.readouterr().err
    assert str(file) in said
    assert "is no SQLite database" in said


def test_a_key_lasts_a_year_unless_told_otherwise(capsys: pytest.CaptureFixture[str]) -> None:
    _said(capsys, "keys", "create", "--scopes", "all")
    _said(capsys, "keys", "create", "--scopes", "admin", "--days", "0")
    year, ever = _said(capsys, "keys", "list")
    assert "  until 20" in year
    assert "  admin,analyse,batch,read,review,write" in year
    assert "  until revoked  " in ever


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("keys", "create", "--academy", "nowhere", "--scopes", "read"), "no such academy"),
        (("keys", "list", "--academy", "nowhere"), "`python -m service academies list`"),
        (("keys", "revoke", "swing_0123456789ab"), "no such key"),
        (("keys", "rotate", "swing_01"), "`python -m service keys list` tells each by its start"),
        (("academies", "create", "default"), "there is an academy named default"),
    ],
)
def test_what_is_not_there_or_is_already_is_told(
    capsys: pytest.CaptureFixture[str], arguments: tuple[str, ...], told: str
) -> None:
    main(["migrate"])
    assert main(arguments) == 2
    assert told in capsys.readouterr().err


def test_a_scope_that_there_is_not_is_refused_with_those_that_there_are(
    capsys: pytest.CaptureFixture[str],
) -> None:
    with pytest.raises(SystemExit):
        main(("keys", "create", "--scopes", "raed"))
    assert "'raed' is no scope; there are analyse, read, write" in capsys.readouterr().err


def test_without_a_database_there_is_nothing_to_make_keys_in(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SWING_DATABASE_URL", "")
    assert main(("keys", "list")) == 2
    assert "there is no database" in capsys.readouterr().err
