"""Filters and pages over kept swings."""

from __future__ import annotations

from datetime import date

from service.analysis.types import Club, Status, View
from service.records import (
    Database,
    Provenance,
    SwingFilter,
    Window,
)
from service.records.keeping import players, swings
from tests.records.kept import (
    analysed,
    keep,
    keep_lesson,
    keep_player,
    still_body,
    swing_body,
)


def _kept(database: Database, wanted: SwingFilter) -> set[str]:
    with database.reading() as session:
        return {swing.id for swing in swings.fetch_page(session, wanted, Window(100)).items}


def test_filters_look_at_the_newest_analysis_only(database: Database) -> None:
    kept = keep(database, keep_lesson(database, keep_player(database)))
    (fault, *_) = [f.fault for f in kept.analysis.findings if f.status is Status.ABSENT]
    wanted = SwingFilter(fault=fault, status=Status.ABSENT)
    assert _kept(database, wanted) == {kept.meta.id}
    with database.writing() as session:
        blind = analysed(still_body()).analysis
        swings.add_analysis(session, kept.meta.id, blind, Provenance("2", "rules"))
    assert _kept(database, wanted) == set()


def test_every_filter_keeps_what_it_names_and_nothing_else(database: Database) -> None:
    one, other = keep_player(database), keep_player(database)
    early = keep_lesson(database, one, date(2025, 1, 31))
    late = keep_lesson(database, other, date(2025, 2, 1))
    a = keep(database, early, swing_body(1, View.FACE_ON, Club.DRIVER))
    b = keep(database, late, swing_body(2, View.DOWN_THE_LINE, Club.WEDGE))
    only_a = (
        SwingFilter(player_id=one.id),
        SwingFilter(lesson_id=early.id),
        SwingFilter(view=View.FACE_ON),
        SwingFilter(club=Club.DRIVER),
        SwingFilter(last_day=date(2025, 1, 31)),
        SwingFilter(view=View.FACE_ON, club=Club.DRIVER, player_id=one.id),
    )
    for wanted in only_a:
        assert _kept(database, wanted) == {a.meta.id}, wanted
    assert _kept(database, SwingFilter(first_day=date(2025, 2, 1))) == {b.meta.id}
    assert _kept(database, SwingFilter(view=View.FACE_ON, club=Club.WEDGE)) == set()
    assert _kept(database, SwingFilter()) == {a.meta.id, b.meta.id}


def test_a_filter_by_fault_and_status_agrees_with_what_was_found(database: Database) -> None:
    lesson = keep_lesson(database, keep_player(database))
    kept = [keep(database, lesson, swing_body(seed)) for seed in (1, 2, 3)]
    pairs = {(f.fault, f.status) for stored in kept for f in stored.analysis.findings}
    assert len({status for _, status in pairs}) > 1
    for fault, status in pairs:
        wanted = {
            stored.meta.id
            for stored in kept
            if any((f.fault, f.status) == (fault, status) for f in stored.analysis.findings)
        }
        assert _kept(database, SwingFilter(fault=fault, status=status)) == wanted


def test_pages_give_every_entry_once_while_others_are_added(database: Database) -> None:
    names = [keep_player(database, f"player {number}").name for number in range(7)]
    seen: list[str] = []
    window = Window(3)
    while True:
        with database.reading() as session:
            page = players.fetch_page(session, window)
        seen += [player.name for player in page.items]
        if page.last is None:
            break
        window = Window(3, page.last)
        if len(seen) < 7:
            keep_player(database, "late")
    assert [name for name in seen if name != "late"] == names


def test_a_page_that_ends_with_the_list_says_so(database: Database) -> None:
    for _ in range(3):
        keep_player(database)
    with database.reading() as session:
        assert players.fetch_page(session, Window(3)).last is None
        assert players.fetch_page(session, Window(2)).last is not None
