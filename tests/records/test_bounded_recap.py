from __future__ import annotations

from datetime import timedelta

import pytest

from service.records import Database
from service.use_cases.recap import build_recap, recap_page, visits
from service.use_cases.recap.visits import visits_of
from tests.records.kept import DAY, keep, keep_lesson, keep_player, still_body


@pytest.mark.parametrize(("most", "lessons"), [(6, 3), (5, 2), (4, 2), (3, 1), (1, 1)])
def test_a_recap_looks_back_on_as_many_lessons_as_the_swings_reach(
    database: Database, monkeypatch: pytest.MonkeyPatch, most: int, lessons: int
) -> None:
    player = keep_player(database)
    kept = [keep_lesson(database, player, DAY + timedelta(days=n)) for n in range(3)]
    for lesson in kept:
        for _ in range(2):
            keep(database, lesson, still_body())
    monkeypatch.setattr(visits, "MOST_SWINGS", most)
    with database.reading() as session:
        _, looked_at, left_out = visits_of(session, kept[-1].id)
        recap_remarks = {r.code: r.text for r in build_recap(session, kept[-1].id).remarks}
        page = recap_page(session, kept[-1].id)
    assert [visit.lesson.id for visit in looked_at] == [lesson.id for lesson in kept[-lessons:]]
    assert [len(visit.swings) for visit in looked_at] == [2] * lessons
    assert left_out == len(kept) - lessons
    said = recap_remarks.get("older_lessons_left_out", "")
    assert said.startswith(("", "One older lesson is", "2 older lessons are")[left_out])
    assert ("older lesson" in page) == bool(left_out), "what is left out is said"
