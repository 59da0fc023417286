"""What is deleted takes all that hangs on it, and leaves all else."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

from service.analysis.types import CoachVerdict
from service.lessons.coach.approval import ApprovableContent
from service.lessons.coach.edits import RecapEdits
from service.records import (
    Database,
    KeptSwing,
    Precondition,
    upgrade,
)
from service.records.batches import batches, queue
from service.records.batches.entities import ItemKind, NewBatch, NewItem, Results
from service.records.keeping import lessons, players, retries, swings
from service.records.keeping.retries import Attempt, FirstAnswer
from service.records.reviews import findings, recap_approvals, recap_edits
from service.records.reviews.entities import NewReview
from service.use_cases.keep import analyse_again, forget_player
from tests.records.kept import (
    RULES,
    counts,
    keep,
    keep_lesson,
    keep_player,
    swing_body,
)


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
    before = counts(database)
    assert all(before.values())
    goes = keep_player(database, "goes")
    for _ in range(2):
        kept = keep(database, keep_lesson(database, goes))
        _keep_answer(database, kept.id)
        _say_something(database, kept)
        analyse_again(database, RULES, kept.meta.id)
    _send_batch(database, kept.meta.lesson_id)
    assert all(count > before[name] for name, count in counts(database).items())
    with database.writing() as session:
        players.delete(session, goes.id)
    assert counts(database) == before


def test_deleting_a_lesson_or_a_swing_takes_what_hangs_on_it(database: Database) -> None:
    lesson = keep_lesson(database, keep_player(database))
    kept = keep(database, lesson)
    with database.writing() as session:
        swings.delete(session, kept.meta.id)
    left = counts(database)
    assert (left["swing"], left["analysis"], left["finding"]) == (0, 0, 0)
    keep(database, lesson)
    with database.writing() as session:
        lessons.delete(session, lesson.id)
    left = counts(database)
    assert left.pop("player") == 1
    assert not any(left.values())


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
    assert counts(database)["player"] == 1
    database.close()
