"""Swings of an archive that are kept in the records too."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from service.archive.errors import NoSuchColumn
from service.archive.results import done
from service.records import Database, SwingFilter, Window
from service.records.access import academies
from service.records.access.sessions import Behalf
from service.records.entities import Consent, ConsentBy
from service.records.identity import is_id, stable_id
from service.records.keeping import lessons, players, swings
from service.settings import Settings
from service.use_cases.analyse import Analyser
from service.use_cases.archive.retag import retag_kept
from tests.archive.made import (
    MODELS,
    RULES_ONLY,
    ndjson,
    request,
    rows,
    tag,
)


def keeping(database_url: str) -> Settings:
    return RULES_ONLY.model_copy(update={"database_url": database_url})


def kept(database: Database) -> list[tuple[str, str, str]]:
    """Player, day of the lesson and id of every kept swing."""
    with database.reading() as session:
        page = swings.fetch_page(session, SwingFilter(), Window(100))
        return [
            (
                players.get(session, swing.player_id).name,
                lessons.get(session, swing.lesson_id).date.isoformat(),
                swing.id,
            )
            for swing in page.items
        ]


def test_swings_are_kept_with_their_players_and_once_however_often_the_run_is_resumed(
    archive: Path, tmp_path: Path, database: Database, database_url: str
) -> None:
    with database.writing() as session:
        ada = players.add(session, "Ada Fairway").id
    settings = keeping(database_url)
    out = tag(archive, tmp_path / "out", settings, partition=2, keep_by="player")
    first = kept(database)
    assert sorted(name for name, _, _ in first) == ["Ada Fairway", "Bob Rough"]
    assert ("Bob Rough", "2024-05-17") in [(name, day) for name, day, _ in first]
    with database.reading() as session:
        assert [p.id for p in players.of_name(session, "Ada Fairway")] == [ada]
    for part in (out / "swings").glob("*.parquet"):
        part.unlink()  # as after a kill between what is kept and what is written
    tag(archive, out, settings, partition=2, keep_by="player")
    assert kept(database) == first
    told = {row["kept_as"] for row in rows(out)} - {None}
    assert told == {swing_id for _, _, swing_id in first}
    reasons = [row["not_kept"] for row in rows(out) if row["kept_as"] is None]
    assert sorted(reasons) == ["no_player_name", "no_swing", "no_swing", "no_swing"]


def test_a_column_that_no_swing_tells_is_refused_before_any_work_with_those_there_are(
    archive: Path, tmp_path: Path, database: Database, database_url: str
) -> None:
    out, settings = tmp_path / "out", keeping(database_url)
    with pytest.raises(
        NoSuchColumn, match=r"tells 'playr'\. They tell age, client_reference, coach"
    ):
        tag(archive, out, settings, keep_by="playr")
    assert not done(out)
    tag(archive, out, settings, keep_by="coach")
    assert [name for name, _, _ in kept(database)] == ["Ada"]


def test_a_kept_swing_can_be_analysed_again_from_the_request_that_was_kept(
    archive: Path, tmp_path: Path, database: Database, database_url: str
) -> None:
    tag(archive, tmp_path / "out", keeping(database_url), keep_by="player")
    analyser = Analyser.of(MODELS)
    anew = retag_kept(database, analyser, SwingFilter(), lambda left, more: None)
    assert (anew.analysed, anew.up_to_date) == (2, 0)
    again = retag_kept(database, analyser, SwingFilter(), lambda left, more: None)
    assert (again.analysed, again.up_to_date) == (0, 2)
    with database.reading() as session:
        for swing in swings.fetch_page(session, SwingFilter(), Window(100)).items:
            assert swing.analyses == 2


def test_two_players_of_one_name_are_not_guessed_between(
    tmp_path: Path, database: Database, database_url: str
) -> None:
    (tmp_path / "archive").mkdir()
    (tmp_path / "archive" / "a.ndjson").write_bytes(ndjson({**request(), "player": "Ada"}))
    with database.writing() as session:
        players.add(session, "Ada")
        players.add(session, "Ada")
    out = tag(tmp_path / "archive", tmp_path / "out", keeping(database_url), keep_by="player")
    assert [row["not_kept"] for row in rows(out)] == ["several_players_of_that_name"]
    assert kept(database) == []


def test_an_id_that_follows_from_names_has_the_form_of_any_other() -> None:
    names: list[Any] = [["swing", "a"], ["swing", "b"], ["player", "a"]]
    ids = {stable_id(1_700_000_000_000, *each) for each in names}
    assert len(ids) == 3
    assert all(is_id(each) and each[14] == "7" and each[19] in "89ab" for each in ids)
    assert json.dumps(sorted(ids)) == json.dumps(
        sorted(stable_id(1_700_000_000_000, *n) for n in names)
    )


def test_without_consent_nothing_of_a_player_is_kept(
    archive: Path, tmp_path: Path, database: Database, database_url: str
) -> None:
    behalf = Behalf(needs_consent=True)
    with database.writing() as session:
        given = Consent(date(2024, 1, 1), ConsentBy.GUARDIAN)
        players.add(session, "Bob Rough", consent=given)
    out = tag(archive, tmp_path / "out", keeping(database_url), keep_by="player", behalf=behalf)
    assert [name for name, _, _ in kept(database)] == ["Bob Rough"]
    assert [row["not_kept"] for row in rows(out)].count("no_consent") == 1


def test_swings_are_kept_by_the_academy_that_was_named_and_seen_by_no_other(
    archive: Path, tmp_path: Path, database: Database, database_url: str
) -> None:
    with database.writing() as session:
        other = academies.add(session, "Links (invented)").id
    behalf = Behalf(other)
    tag(archive, tmp_path / "out", keeping(database_url), keep_by="player", behalf=behalf)
    assert kept(database) == []
    assert len(kept(database.on_behalf(behalf))) == 2
