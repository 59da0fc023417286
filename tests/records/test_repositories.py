from __future__ import annotations

import dataclasses
from datetime import date, datetime, timedelta, timezone
from pathlib import Path

import numpy as np
import pytest

from service.analysis.types import Club, Handedness, View
from service.records import (
    Database,
    NewSwing,
    Provenance,
    RecordNotFound,
    RecordsUnavailable,
    Role,
    StaleVersion,
    Window,
)
from service.records.keeping import lessons, players, swings
from service.use_cases.compare import progress_of
from service.use_cases.history import (
    kept_clip,
    numbered_analysis,
    swing_analysis,
    swings_by_lesson,
)
from service.use_cases.keep import KeepSwing, analyse_again, keep_swing
from tests.records.kept import (
    RULES,
    analysed,
    counts,
    keep,
    keep_lesson,
    keep_player,
    still_body,
    swing_body,
)

NOBODY = "01900000-0000-7000-8000-00000000dead"


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
    assert counts(database)["player"] == 0


def test_a_change_that_fails_half_way_leaves_nothing(database: Database) -> None:
    lesson = keep_lesson(database, keep_player(database))
    clip = analysed(still_body())
    broken = dataclasses.replace(clip.analysis, measures=(object(),))
    new = NewSwing(lesson.created, Role.OTHER, None, b"{}")
    with pytest.raises((TypeError, ValueError)), database.writing() as session:
        swings.add(session, lesson.id, new, broken, Provenance("1", None))
    assert counts(database)["swing"] == 0


def test_a_reader_sees_one_moment_whatever_others_write(database: Database) -> None:
    keep_player(database)
    with database.reading() as session:
        before = len(players.fetch_page(session, Window(10)).items)
        keep_player(database)
        session.expire_all()
        assert len(players.fetch_page(session, Window(10)).items) == before
    assert counts(database)["player"] == 2


def test_a_database_without_tables_is_unavailable(empty_database_url: str) -> None:
    database = Database(empty_database_url)
    with pytest.raises(RecordsUnavailable), database.writing() as session:
        players.add(session, "nobody")
    database.close()


def test_a_database_that_is_not_there_is_unavailable(tmp_path: Path) -> None:
    database = Database(f"sqlite:///{tmp_path}/no/such/folder/records.db")
    with pytest.raises(RecordsUnavailable), database.reading() as session:
        players.get(session, NOBODY)
