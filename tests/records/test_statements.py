"""How many SQL statements a use takes: bounded, however many swings there are."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from threading import get_ident

import pytest
from sqlalchemy import Engine, event

from service.intake import request as intake
from service.records import Database, Role
from service.use_cases.compare import compare_kept, progress_of
from service.use_cases.history import kept_clip, swing_analysis
from service.use_cases.keep import analyse_again
from service.use_cases.recap import build_recap, recap_page
from tests.records.kept import RULES, faulty_body, keep, keep_lesson, keep_player, still_body

FEW, MANY = 1, 4


def statements(use: Callable[[], object]) -> int:
    """Statements that a use sends, without the beginning and end of transactions.

    Those of other threads are not counted: a server that another test started may still be at work.
    """
    sent: list[str] = []
    own = get_ident()

    def listen(_connection: object, _cursor: object, statement: str, *_: object) -> None:
        if get_ident() == own and not statement.startswith(("BEGIN", "SELECT set_config(")):
            sent.append(statement)

    event.listen(Engine, "before_cursor_execute", listen)
    try:
        use()
    finally:
        event.remove(Engine, "before_cursor_execute", listen)
    return len(sent)


def reads(use: Callable[[], object], monkeypatch: pytest.MonkeyPatch) -> int:
    """How many requests a use parses."""
    parsed: list[object] = []
    read_swing = intake.read_swing

    def counting(body: bytes) -> object:
        parsed.append(body)
        return read_swing(body)

    with monkeypatch.context() as patch:
        patch.setattr(intake, "read_swing", counting)
        use()
    return len(parsed)


def test_keeping_a_swing_takes_two_looks_at_the_lesson_one_at_the_player_and_three_inserts(
    database: Database,
) -> None:
    lesson = keep_lesson(database, keep_player(database))
    assert statements(lambda: keep(database, lesson, faulty_body())) == 6
    assert statements(lambda: keep(database, lesson, still_body())) == 5, "no findings to insert"


def test_a_swing_is_parsed_once_to_be_kept_and_once_to_be_analysed_again(
    database: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    lesson = keep_lesson(database, keep_player(database))
    assert reads(lambda: keep(database, lesson, faulty_body()), monkeypatch) == 1
    swing = keep(database, lesson, faulty_body())
    assert reads(lambda: analyse_again(database, RULES, swing.id), monkeypatch) == 1


def test_what_was_just_written_is_not_read_back(
    database: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    lesson = keep_lesson(database, keep_player(database))
    monkeypatch.setattr("service.records.keeping.selecting.decode", pytest.fail)
    swing = keep(database, lesson, faulty_body())
    analyse_again(database, RULES, swing.id)
    monkeypatch.undo()
    with database.reading() as session:
        stored = swing_analysis(session, swing.id)
    assert (stored.meta.analyses, stored.analysis.findings) == (2, swing.analysis.findings)


def test_progress_recap_and_comparison_take_as_many_for_many_swings_as_for_few(
    database: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    def uses(count: int) -> tuple[list[int], list[int]]:
        player = keep_player(database)
        lessons = [keep_lesson(database, player, date(2025, 5, day)) for day in range(1, count + 1)]
        kept = [
            keep(database, lesson, faulty_body(), role, minute)
            for lesson in lessons
            for minute in range(count)
            for role in (Role.BEFORE, Role.AFTER)
        ]
        ids = [swing.id for swing in kept]
        with database.reading() as session:
            each = (
                lambda: progress_of(session, player.id),
                lambda: build_recap(session, lessons[-1].id),
                lambda: compare_kept(session, ids[:-1], [], ids[-1:]),
                lambda: kept_clip(session, ids[0]),
                lambda: recap_page(session, lessons[-1].id),
            )
            numbers = []
            for use in each:
                session.expunge_all()
                numbers.append(statements(use))
            return numbers, [reads(use, monkeypatch) for use in each]

    few, many = uses(FEW), uses(MANY)
    assert few[0] == many[0] == [4, 9, 2, 2, 10]
    assert many[1][:4] == [0, 0, 0, 1], "only what is drawn is unpacked"
    assert 0 < many[1][4] < 2 * MANY, "the page reads the swings that it draws"
