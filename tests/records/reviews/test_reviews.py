"""What coaches say, kept in both databases."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import pytest
from sqlalchemy import func, select

from service.analysis.types import CoachVerdict, Grade, Status, View
from service.lessons.coach.approval import ApprovableContent
from service.lessons.coach.edits import (
    KeyEdit,
    KeyWords,
    OwnKey,
    RecapEdits,
    Shape,
    ShapeKind,
)
from service.records import (
    Database,
    KeptSwing,
    MissingVersion,
    Precondition,
    RecordNotFound,
    StaleVersion,
    Window,
)
from service.records.keeping import lessons, players, swings
from service.records.reviews import findings, recap_approvals, recap_edits
from service.records.reviews.entities import NewReview, ReviewEntry
from service.records.reviews.tables import RecapApprovalRow, RecapEditsRow, ReviewRow
from service.settings import Settings
from service.use_cases.analyse import Analyser
from service.use_cases.history import swing_analysis
from service.use_cases.keep import analyse_again
from tests.records.kept import RULES, faulty_body, keep, keep_lesson, keep_player, still_body

FAULT = "long_backswing"
CONFIRM, REJECT, _ = CoachVerdict
WRITERS = 6
ANY, NONE_YET, UNTOLD = (
    Precondition(any_version=True, versions=frozenset()),
    Precondition(none_yet=True),
    Precondition(),
)


def at(*versions: int) -> Precondition:
    return Precondition(frozenset(versions))


@pytest.fixture
def swing(database: Database) -> KeptSwing:
    return keep(database, keep_lesson(database, keep_player(database)), faulty_body())


def put(
    database: Database,
    swing_id: str,
    verdict: CoachVerdict = CONFIRM,
    expected: Precondition = UNTOLD,
    note: str | None = None,
    reviewer: str = "Bo",
) -> tuple[ReviewEntry, bool]:
    with database.writing() as session:
        new = NewReview(verdict, reviewer, note=note)
        return findings.put(session, swing_id, FAULT, new, expected)


def history(database: Database, swing_id: str) -> list[CoachVerdict | None]:
    with database.reading() as session:
        page = findings.fetch_history(session, swing_id, FAULT, Window(100))
    assert [entry.version for entry in page.items] == list(range(1, len(page.items) + 1))
    return [entry.verdict for entry in page.items]


def test_a_review_is_changed_and_withdrawn_and_all_of_it_is_remembered(
    database: Database, swing: KeptSwing
) -> None:
    assert put(database, swing.id)[1]
    assert not put(database, swing.id, REJECT, at(1))[1]
    with database.writing() as session:
        findings.withdraw(session, swing.id, FAULT, "Cleo", frozenset({2}))
    with database.reading() as session, pytest.raises(RecordNotFound):
        findings.get(session, swing.id, FAULT)
    entry, made = put(database, swing.id)
    assert (made, entry.version) == (True, 4), "versions go on, so that no ETag comes twice"
    assert history(database, swing.id) == [CONFIRM, REJECT, None, CONFIRM]


@pytest.mark.parametrize(
    ("expected", "error"),
    [(UNTOLD, MissingVersion), (NONE_YET, StaleVersion), (at(7), StaleVersion)],
)
def test_a_review_that_is_there_is_changed_only_by_who_read_it(
    database: Database, swing: KeptSwing, expected: Precondition, error: type[Exception]
) -> None:
    put(database, swing.id)
    with pytest.raises(error):
        put(database, swing.id, REJECT, expected)
    assert history(database, swing.id) == [CONFIRM]


def test_where_there_is_none_none_can_be_changed_but_one_made(
    database: Database, swing: KeptSwing
) -> None:
    for expected in (ANY, at(1)):
        with pytest.raises(StaleVersion, match="no review"):
            put(database, swing.id, CONFIRM, expected)
    assert put(database, swing.id, CONFIRM, NONE_YET)[1]


def test_the_same_review_sent_again_is_not_kept_twice(database: Database, swing: KeptSwing) -> None:
    first = put(database, swing.id, REJECT)[0]
    for expected in (UNTOLD, NONE_YET, at(0), ANY):
        assert put(database, swing.id, REJECT, expected) == (first, False)
    assert history(database, swing.id) == [REJECT]


def test_of_coaches_who_review_at_once_exactly_one_is_first(
    database: Database, swing: KeptSwing
) -> None:
    def review(coach: int) -> bool:
        try:
            return put(database, swing.id, REJECT, NONE_YET, reviewer=f"coach {coach}")[1]
        except StaleVersion:
            return False

    with ThreadPoolExecutor(WRITERS) as pool:
        made = list(pool.map(review, range(WRITERS)))
    assert made.count(True) == 1
    with database.reading() as session:
        assert findings.get(session, swing.id, FAULT).reviewer == f"coach {made.index(True)}"


def test_coaches_who_change_one_review_lose_no_word(database: Database, swing: KeptSwing) -> None:
    put(database, swing.id, note="")

    def add(word: str) -> int:
        conflicts = 0
        while True:
            with database.reading() as session:
                last = findings.get(session, swing.id, FAULT)
            try:
                put(database, swing.id, CONFIRM, at(last.version), f"{last.note} {word}")
                return conflicts
            except StaleVersion:
                conflicts += 1

    words = [f"w{number}" for number in range(4 * WRITERS)]
    with ThreadPoolExecutor(WRITERS) as pool:
        conflicts = sum(pool.map(add, words))
    with database.reading() as session:
        kept = findings.get(session, swing.id, FAULT)
    assert sorted((kept.note or "").split()) == sorted(words)
    assert kept.version == 1 + len(words)
    assert conflicts > 0, "the writers never met, so this showed nothing"


def test_a_review_outlives_a_new_analysis_and_remembers_the_one_it_was_made_for(
    database: Database, swing: KeptSwing
) -> None:
    put(database, swing.id, REJECT)
    assert swing.kept.made_by.model is None
    again = analyse_again(database, Analyser.of(Settings()), swing.id)
    assert again.kept.made_by.model is not None, "a newer model looks at it"
    with database.reading() as session:
        read = swing_analysis(session, swing.id)
    for kept in (again, read):
        (finding,) = [f for f in kept.analysis.findings if f.fault == FAULT]
        assert kept.kept.number == 2
        assert finding.status is Status.PRESENT, "what the service found stays as it is"
        assert finding.review is not None
        assert (finding.review.verdict, finding.review.analysis) == (REJECT, 1)
    entry, _ = put(database, swing.id, REJECT, at(1))
    assert (entry.analysis, entry.version) == (2, 2), "said again of the newer analysis"


def test_a_swing_in_which_none_was_found_can_be_reviewed(database: Database) -> None:
    still = keep(database, keep_lesson(database, keep_player(database)), still_body())
    put(database, still.id)
    with database.reading() as session:
        assert swing_analysis(session, still.id).analysis.findings == ()
        (pair,) = findings.pairs(session)
    assert (pair.service, pair.view) == (None, None)


@pytest.mark.parametrize("number", [0, 2])
def test_an_analysis_that_is_not_there_can_not_have_been_looked_at(
    database: Database, swing: KeptSwing, number: int
) -> None:
    new = NewReview(CONFIRM, "Bo", analysis=number)
    with database.writing() as session, pytest.raises(RecordNotFound, match="analysis"):
        findings.put(session, swing.id, FAULT, new, UNTOLD)


def test_pairs_are_of_the_newest_analysis_and_of_reviews_that_stand(
    database: Database, swing: KeptSwing
) -> None:
    with database.writing() as session:
        graded = NewReview(CONFIRM, "Bo", Grade.MARKED)
        findings.put(session, swing.id, FAULT, graded, UNTOLD)
        findings.put(session, swing.id, "handle_rise", NewReview(REJECT, "Bo"), UNTOLD)
        findings.put(session, swing.id, "chest_stall", NewReview(REJECT, "Bo"), UNTOLD)
        findings.withdraw(session, swing.id, "chest_stall", "Bo", None)
    analyse_again(database, RULES, swing.id)
    with database.reading() as session:
        pairs = {pair.fault: pair for pair in findings.pairs(session)}
    assert pairs.keys() == {FAULT, "handle_rise"}
    found = next(f for f in swing.analysis.findings if f.fault == FAULT)
    assert pairs[FAULT].service is Status.PRESENT
    assert (pairs[FAULT].service_grade, pairs[FAULT].coach_grade) == (found.grade, Grade.MARKED)
    assert (pairs[FAULT].view, pairs[FAULT].model, pairs[FAULT].count) == (View.FACE_ON, None, 1)


def test_edits_come_back_as_they_were_kept(database: Database, swing: KeptSwing) -> None:
    drawing = (
        Shape(ShapeKind.LINE, ((0.0, 0.1), (0.2, 1.0)), label="spine"),
        Shape(ShapeKind.CIRCLE, ((0.0, 1.0),), 0.1),
    )
    own = OwnKey("Grip", 1, View.FACE_ON, KeyWords(work_on="Hold it so."), drawing)
    edits = RecapEdits((KeyEdit(FAULT, hidden=True, words=KeyWords()), own))
    lesson = swing.meta.lesson_id
    with database.writing() as session:
        kept, made = recap_edits.put(session, lesson, edits, "Bo", NONE_YET)
    assert (made, kept.version) == (True, 1)
    with database.reading() as session:
        assert recap_edits.get(session, lesson) == kept
    for expected in (UNTOLD, NONE_YET, at(1)):
        with database.writing() as session:
            assert recap_edits.put(session, lesson, edits, "Bo", expected) == (kept, False)
    for expected, error in ((UNTOLD, MissingVersion), (at(2), StaleVersion)):
        with database.writing() as session, pytest.raises(error):
            recap_edits.put(session, lesson, RecapEdits(), "Bo", expected)


def test_of_coaches_who_edit_at_once_exactly_one_is_first(
    database: Database, swing: KeptSwing
) -> None:
    def edit(coach: int) -> bool:
        own = OwnKey(f"key {coach}", 1, None, KeyWords(work_on="So."))
        try:
            with database.writing() as session:
                lesson = swing.meta.lesson_id
                return recap_edits.put(session, lesson, RecapEdits((own,)), "Bo", NONE_YET)[1]
        except StaleVersion:
            return False

    with ThreadPoolExecutor(WRITERS) as pool:
        made = list(pool.map(edit, range(WRITERS)))
    assert made.count(True) == 1


def test_an_approval_is_withdrawn_and_given_again(database: Database, swing: KeptSwing) -> None:
    lesson = swing.meta.lesson_id
    with database.writing() as session:
        with pytest.raises(RecordNotFound, match="approval"):
            recap_approvals.withdraw(session, lesson, "Bo")
        recap_approvals.add(session, lesson, "Bo", ApprovableContent(keys=(FAULT,)))
        recap_approvals.withdraw(session, lesson, "Cleo")
        recap_approvals.add(session, lesson, "Bo", ApprovableContent())
    with database.reading() as session:
        said = recap_approvals.all_of(session, lesson)
        last = recap_approvals.find(session, lesson)
    assert [(a.reviewer, a.told) for a in said] == [
        ("Bo", ApprovableContent(keys=(FAULT,))),
        ("Cleo", None),
        ("Bo", ApprovableContent()),
    ]
    assert last == said[-1]


@pytest.mark.parametrize("whose", ["swing", "lesson", "player"])
def test_what_coaches_said_goes_with_what_they_said_it_of(
    database: Database, swing: KeptSwing, whose: str
) -> None:
    put(database, swing.id)
    with database.writing() as session:
        recap_edits.put(session, swing.meta.lesson_id, RecapEdits(), "Bo", UNTOLD)
        recap_approvals.add(session, swing.meta.lesson_id, "Bo", ApprovableContent())
    with database.writing() as session:
        match whose:
            case "swing":
                swings.delete(session, swing.id)
            case "lesson":
                lessons.delete(session, swing.meta.lesson_id)
            case "player":
                players.delete(session, swing.meta.player_id)
    with database.reading() as session:
        left = [
            session.scalar(select(func.count()).select_from(table))
            for table in (ReviewRow, RecapEditsRow, RecapApprovalRow)
        ]
    assert left == ([0, 1, 1] if whose == "swing" else [0, 0, 0])
