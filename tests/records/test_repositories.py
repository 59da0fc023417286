from __future__ import annotations

import dataclasses
from datetime import date, datetime, timedelta, timezone
from pathlib import Path

import numpy as np
import pytest
from sqlalchemy import func, select

from service.analysis.types import Club, CoachVerdict, Handedness, Status, View
from service.lessons.coach.approval import ApprovableContent
from service.lessons.coach.edits import RecapEdits
from service.records import (
    Database,
    KeptSwing,
    NewSwing,
    Precondition,
    Provenance,
    RecordNotFound,
    RecordsUnavailable,
    Role,
    StaleVersion,
    SwingFilter,
    Window,
    upgrade,
)
from service.records.batches import batches, queue
from service.records.batches.entities import ItemKind, NewBatch, NewItem, Results
from service.records.keeping import lessons, players, retries, swings
from service.records.keeping.retries import Attempt, FirstAnswer
from service.records.reviews import findings, recap_approvals, recap_edits
from service.records.reviews.entities import NewReview
from service.records.tables import AuditRow, OfAcademy
from service.use_cases.compare import progress_of
from service.use_cases.history import (
    kept_clip,
    numbered_analysis,
    swing_analysis,
    swings_by_lesson,
)
from service.use_cases.keep import KeepSwing, analyse_again, forget_player, keep_swing
from tests.records.kept import (
    RULES,
    analysed,
    keep,
    keep_lesson,
    keep_player,
    still_body,
    swing_body,
)

NOBODY = "01900000-0000-7000-8000-00000000dead"


def _counts(database: Database) -> dict[str, int]:
    """Rows of every table that holds something of players."""
    with database.connected() as connection:
        return {
            row.__tablename__: connection.scalar(select(func.count()).select_from(row)) or 0
            for row in OfAcademy.__subclasses__()
            if row is not AuditRow
        }


def _say_something(database: Database, swing: KeptSwing) -> None:
    """Let a coach review a finding, and edit and approve the recap."""
    review, anything = NewReview(CoachVerdict.REJECT, "Bo"), Precondition()
    with database.writing() as session:
        findings.put(session, swing.id, "chest_stall", review, anything)
        recap_edits.put(session, swing.meta.lesson_id, RecapEdits(), "Bo", anything)
        recap_approvals.add(session, swing.meta.lesson_id, "Bo", ApprovableContent())


def _send_batch(database: Database, lesson_id: str) -> None:
    """Have two swings in a batch, of which one is done."""
    with database.writing() as session:
        batch = batches.receive(session, NewBatch(lesson_id=lesson_id))
        lines = [NewItem(n, ItemKind.LINES, n, b"{}\n") for n in (1, 2)]
        batches.add_items(session, batch.id, lines)
        batches.open_up(session, batch.id, 2)
    with database.writing() as session:
        item = queue.take(session, "somebody", 60.0)
        assert item is not None
        queue.finish(session, item, Results(item.first_line, 1, item.body, done=1))


def _kept(database: Database, wanted: SwingFilter) -> set[str]:
    with database.reading() as session:
        return {swing.id for swing in swings.fetch_page(session, wanted, Window(100)).items}


def test_a_player_comes_back_as_kept(database: Database) -> None:
    with database.writing() as session:
        kept = players.add(session, "Zoë 'Ace' O'Hara", Handedness.LEFT, "likes\nlong irons")
    with database.reading() as session:
        assert players.get(session, kept.id) == kept
    assert (kept.version, kept.created.utcoffset()) == (1, timedelta(0))


def test_a_swing_comes_back_with_its_clip_and_what_was_found(database: Database) -> None:
    lesson = keep_lesson(database, keep_player(database))
    body = swing_body(2, View.DOWN_THE_LINE, Club.WEDGE, "über")
    kept = keep(database, lesson, body, Role.REFERENCE)
    with database.reading() as session:
        stored = swing_analysis(session, kept.id)
        clip = kept_clip(session, kept.id)
        assert swings.requests_of(session, [kept.id]) == {kept.id: body}
    wanted = analysed(body)
    assert stored.meta == kept.meta
    assert stored.analysis.findings == wanted.analysis.findings
    np.testing.assert_array_equal(clip.recording.points, wanted.recording.points)
    np.testing.assert_array_equal(stored.analysis.times, wanted.recording.times)
    assert clip.reference == "über"
    assert (stored.meta.view, stored.meta.club) == (View.DOWN_THE_LINE, Club.WEDGE)
    assert (stored.meta.role, stored.meta.client_reference) == (Role.REFERENCE, "über")
    assert stored.meta.n_frames == len(wanted.recording.times)
    assert stored.meta.player_id == lesson.player_id


def test_a_moment_in_any_time_zone_comes_back_as_the_same_moment(database: Database) -> None:
    lesson = keep_lesson(database, keep_player(database))
    moment = datetime(2025, 5, 17, 1, 30, 0, 123456, timezone(timedelta(hours=5, minutes=30)))
    kept = keep_swing(database, RULES, KeepSwing(lesson.id, still_body(), recorded_at=moment))
    with database.reading() as session:
        assert swings.get(session, kept.meta.id).recorded_at == moment


def test_swings_of_a_lesson_come_as_they_were_recorded(database: Database) -> None:
    lesson = keep_lesson(database, keep_player(database))
    kept = [keep(database, lesson, still_body(), minute=minute) for minute in (30, 10, 20)]
    with database.reading() as session:
        (found,) = swings_by_lesson(session, [lesson])
    got = [stored.id for stored in found]
    assert got == [kept[1].meta.id, kept[2].meta.id, kept[0].meta.id]


def test_the_history_of_a_player_goes_by_the_date_of_the_lesson(database: Database) -> None:
    player = keep_player(database)
    later = keep_lesson(database, player, date(2025, 6, 1))
    earlier = keep_lesson(database, player, date(2025, 5, 1))
    keep(database, later, still_body())
    with database.reading() as session:
        in_order = lessons.of_player(session, player.id)
        found = swings_by_lesson(session, in_order)
    assert [lesson.id for lesson in in_order] == [earlier.id, later.id]
    assert [len(each) for each in found] == [0, 1]


def test_another_analysis_stands_beside_the_first(
    database: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept = keep(database, keep_lesson(database, keep_player(database)))
    monkeypatch.setattr("service.__version__", "99.0")
    again = analyse_again(database, RULES, kept.meta.id)
    with database.reading() as session:
        first = numbered_analysis(session, kept.meta.id, 1)
        newest = swing_analysis(session, kept.meta.id)
    assert (again.meta.analyses, newest.kept.number) == (2, 2)
    model = newest.analysis.model
    assert newest.kept.made_by == Provenance("99.0", model.version if model else None)
    assert first.kept.made_by != newest.kept.made_by
    assert first.analysis.findings == newest.analysis.findings == kept.analysis.findings


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


def _keep_answer(database: Database, swing_id: str) -> None:
    attempt = Attempt(swing_id, b"asked", timedelta(hours=1))
    with database.writing() as session:
        retries.keep(session, attempt, FirstAnswer("swing", swing_id, "/", '"1"', b"{}"))


def test_deleting_a_player_leaves_nothing_of_theirs_and_all_of_others(database: Database) -> None:
    stays = keep_lesson(database, keep_player(database, "stays"))
    swing = keep(database, stays, swing_body(2))
    _keep_answer(database, swing.id)
    _say_something(database, swing)
    _send_batch(database, stays.id)
    before = _counts(database)
    assert all(before.values())
    goes = keep_player(database, "goes")
    for _ in range(2):
        kept = keep(database, keep_lesson(database, goes))
        _keep_answer(database, kept.id)
        _say_something(database, kept)
        analyse_again(database, RULES, kept.meta.id)
    _send_batch(database, kept.meta.lesson_id)
    assert all(count > before[name] for name, count in _counts(database).items())
    with database.writing() as session:
        players.delete(session, goes.id)
    assert _counts(database) == before


def test_deleting_a_lesson_or_a_swing_takes_what_hangs_on_it(database: Database) -> None:
    lesson = keep_lesson(database, keep_player(database))
    kept = keep(database, lesson)
    with database.writing() as session:
        swings.delete(session, kept.meta.id)
    counts = _counts(database)
    assert (counts["swing"], counts["analysis"], counts["finding"]) == (0, 0, 0)
    keep(database, lesson)
    with database.writing() as session:
        lessons.delete(session, lesson.id)
    counts = _counts(database)
    assert counts.pop("player") == 1
    assert not any(counts.values())


@pytest.mark.parametrize("record_id", [NOBODY, "nobody", "", "\0", NOBODY.upper() + "x"])
def test_what_is_not_there_is_not_found(database: Database, record_id: str) -> None:
    with database.writing() as session:
        for get in (players.get, lessons.get, swings.get, swing_analysis, kept_clip, progress_of):
            with pytest.raises(RecordNotFound):
                get(session, record_id)
        for delete in (players.delete, lessons.delete, swings.delete):
            with pytest.raises(RecordNotFound):
                delete(session, record_id)
        with pytest.raises(RecordNotFound):
            lessons.add(session, record_id, date(2025, 1, 1))
        with pytest.raises(RecordNotFound):
            swings.requests_of(session, [record_id])


def test_an_analysis_number_that_was_never_made_is_not_found(database: Database) -> None:
    kept = keep(database, keep_lesson(database, keep_player(database)), still_body())
    with database.reading() as session:
        for number in (0, 2, 2**40, 2**70):
            with pytest.raises(RecordNotFound):
                swings.get_analysis(session, kept.meta, number)


def test_a_change_for_another_version_changes_nothing(database: Database) -> None:
    player = keep_player(database)
    with database.writing() as session:
        changed = players.change(session, player.id, {"note": "first"}, frozenset({1}))
    assert changed.version == 2
    with pytest.raises(StaleVersion), database.writing() as session:
        players.change(session, player.id, {"note": "second"}, frozenset({1}))
    with pytest.raises(StaleVersion), database.writing() as session:
        players.delete(session, player.id, frozenset({1}))
    with database.reading() as session:
        assert players.get(session, player.id) == changed


def test_a_session_for_reading_keeps_nothing(database: Database) -> None:
    with database.reading() as session:
        players.add(session, "ghost")
    assert _counts(database)["player"] == 0


def test_a_change_that_fails_half_way_leaves_nothing(database: Database) -> None:
    lesson = keep_lesson(database, keep_player(database))
    clip = analysed(still_body())
    broken = dataclasses.replace(clip.analysis, measures=(object(),))
    new = NewSwing(lesson.created, Role.OTHER, None, b"{}")
    with pytest.raises((TypeError, ValueError)), database.writing() as session:
        swings.add(session, lesson.id, new, broken, Provenance("1", None))
    assert _counts(database)["swing"] == 0


def test_a_reader_sees_one_moment_whatever_others_write(database: Database) -> None:
    keep_player(database)
    with database.reading() as session:
        before = len(players.fetch_page(session, Window(10)).items)
        keep_player(database)
        session.expire_all()
        assert len(players.fetch_page(session, Window(10)).items) == before
    assert _counts(database)["player"] == 2


def test_a_database_without_tables_is_unavailable(empty_database_url: str) -> None:
    database = Database(empty_database_url)
    with pytest.raises(RecordsUnavailable), database.writing() as session:
        players.add(session, "nobody")
    database.close()


def test_a_database_that_is_not_there_is_unavailable(tmp_path: Path) -> None:
    database = Database(f"sqlite:///{tmp_path}/no/such/folder/records.db")
    with pytest.raises(RecordsUnavailable), database.reading() as session:
        players.get(session, NOBODY)


def test_a_player_who_is_forgotten_is_gone_from_the_files_of_sqlite(tmp_path: Path) -> None:
    database = Database(f"sqlite:///{tmp_path / 'records.db'}")
    upgrade(database)

    def traces() -> int:
        return sum(path.read_bytes().count(b"Ada Fairway") for path in tmp_path.iterdir())

    player = keep_player(database, "Ada Fairway")
    keep_player(database, "Bea Rough")
    assert traces() > 0
    forget_player(database, player.id, None)
    assert traces() == 0
    assert _counts(database)["player"] == 1
    database.close()
