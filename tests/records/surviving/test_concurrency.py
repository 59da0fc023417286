from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from functools import partial

import pytest
from sqlalchemy import func, select

from service.records import Database, RecordNotFound, StaleVersion, SwingFilter, Window
from service.records.keeping import lessons, players, swings
from service.records.tables import FindingRow
from service.use_cases.analyse import Analyser
from service.use_cases.history import swings_by_lesson
from service.use_cases.keep import analyse_again
from tests.records.kept import (
    RULES,
    analysed,
    keep,
    keep_lesson,
    keep_player,
    still_body,
    swing_body,
)

WRITERS = 6
TURNS = 5


def _append(database: Database, lesson_id: str, word: str) -> int:
    """Add a word to the coach's note, reading again whenever another was faster."""
    conflicts = 0
    while True:
        with database.reading() as session:
            lesson = lessons.get(session, lesson_id)
        note = f"{lesson.coach_note or ''} {word}"
        try:
            with database.writing() as session:
                lessons.change(
                    session, lesson_id, {"coach_note": note}, frozenset({lesson.version})
                )
            return conflicts
        except StaleVersion:
            conflicts += 1


def test_writers_of_one_note_lose_no_word(database: Database) -> None:
    lesson = keep_lesson(database, keep_player(database))
    words = [f"w{number}" for number in range(WRITERS * TURNS)]
    with ThreadPoolExecutor(WRITERS) as pool:
        conflicts = sum(pool.map(partial(_append, database, lesson.id), words))
    with database.reading() as session:
        kept = lessons.get(session, lesson.id)
    assert sorted((kept.coach_note or "").split()) == sorted(words)
    assert kept.version == 1 + len(words)
    assert conflicts > 0, "the writers never met, so this showed nothing"


def test_of_changes_made_for_one_version_exactly_one_is_kept(database: Database) -> None:
    player = keep_player(database)

    def change(note: str) -> bool:
        try:
            with database.writing() as session:
                players.change(session, player.id, {"note": note}, frozenset({1}))
        except StaleVersion:
            return False
        return True

    with ThreadPoolExecutor(WRITERS) as pool:
        kept = list(pool.map(change, map(str, range(WRITERS))))
    assert kept.count(True) == 1
    with database.reading() as session:
        assert players.get(session, player.id).note == str(kept.index(True))


def test_swings_kept_at_once_are_all_kept_whole(database: Database) -> None:
    lesson = keep_lesson(database, keep_player(database))
    with ThreadPoolExecutor(WRITERS) as pool:
        made = list(pool.map(lambda _: keep(database, lesson).meta.id, range(WRITERS * 2)))
    with database.reading() as session:
        (stored,) = swings_by_lesson(session, [lesson])
        bodies = swings.requests_of(session, made)
        findings = session.scalar(select(func.count()).select_from(FindingRow))
    assert {swing.meta.id for swing in stored} == set(made)
    assert findings == sum(len(swing.analysis.findings) for swing in stored) > 0
    assert set(bodies.values()) == {swing_body()}


def test_analyses_made_at_once_are_numbered_without_gap(database: Database) -> None:
    kept = keep(database, keep_lesson(database, keep_player(database)))
    with ThreadPoolExecutor(WRITERS) as pool:
        list(pool.map(lambda _: analyse_again(database, RULES, kept.meta.id), range(WRITERS)))
    with database.reading() as session:
        page = swings.fetch_analyses(session, kept.meta.id, Window(100))
        assert swings.get(session, kept.meta.id).analyses == WRITERS + 1
    assert sorted(entry.number for entry in page.items) == list(range(1, WRITERS + 2))


def test_a_player_deleted_while_swings_come_in_leaves_no_orphan(database: Database) -> None:
    player = keep_player(database)
    lesson = keep_lesson(database, player)

    def work(turn: int) -> str:
        try:
            if turn == WRITERS:
                with database.writing() as session:
                    players.delete(session, player.id)
                return "deleted"
            keep(database, lesson, still_body())
        except RecordNotFound:
            return "refused"
        return "kept"

    analysed(still_body())
    with ThreadPoolExecutor(WRITERS) as pool:
        ends = list(pool.map(work, range(4 * WRITERS)))
    assert ends.count("deleted") == 1
    assert set(ends) <= {"kept", "refused", "deleted"}
    with database.reading() as session, pytest.raises(RecordNotFound):
        swings.of_lesson(session, lesson.id)
    with database.reading() as session:
        assert swings.fetch_page(session, SwingFilter(), Window(1)).items == ()


def test_an_analysis_of_a_swing_deleted_meanwhile_is_refused(
    database: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept = keep(database, keep_lesson(database, keep_player(database)))

    def delete_meanwhile(_analyser: Analyser, _recording: object) -> object:
        with database.writing() as session:
            swings.delete(session, kept.meta.id)
        return kept.analysis

    monkeypatch.setattr(Analyser, "analyse", delete_meanwhile)
    with pytest.raises(RecordNotFound):
        analyse_again(database, RULES, kept.meta.id)


def test_readers_are_not_held_up_by_a_writer(database: Database) -> None:
    player = keep_player(database)
    with database.writing() as writing:
        players.change(writing, player.id, {"note": "not yet"}, None)
        with database.reading() as reading:
            assert players.get(reading, player.id).note is None
    with database.reading() as reading:
        assert players.get(reading, player.id).note == "not yet"
