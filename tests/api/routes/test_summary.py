from __future__ import annotations

from collections import Counter

import pytest
from fastapi.testclient import TestClient

from service.analysis.types import Club, View
from service.languages import language
from service.records import Database, SwingFilter
from service.records.access import academies
from service.records.access.sessions import Behalf
from service.records.keeping.rates import GroupBy, more_than
from service.use_cases import summarise
from tests.records.kept import (
    DAY,
    KeptSwing,
    faulty_body,
    keep,
    keep_lesson,
    keep_player,
    still_body,
    swing_body,
)


@pytest.fixture
def kept(database: Database) -> list[KeptSwing]:
    """Swings of two players, of two years; one clip without a swing."""
    ada = keep_lesson(database, keep_player(database))
    bob = keep_lesson(database, keep_player(database, "Bob Rough"), DAY.replace(year=2024))
    return [
        keep(database, ada, faulty_body()),
        keep(database, ada, swing_body(1, View.DOWN_THE_LINE)),
        keep(database, ada, still_body()),
        keep(database, bob, swing_body(2, View.FACE_ON, Club.DRIVER)),
    ]


def statuses(answer: dict[str, object], fault: str) -> tuple[int, ...]:
    rate = next(r for r in answer["faults"] if r["fault"] == fault)  # type: ignore[attr-defined]
    return tuple(rate[name] for name in ("present", "absent", "uncertain", "not_assessable"))


def test_rates_are_those_of_the_newest_analyses(keeper: TestClient, kept: list[KeptSwing]) -> None:
    answer = keeper.get("/v1/summary").json()
    found = [swing for swing in kept if swing.analysis.swing_found]
    assert (answer["total"]["swings"], answer["total"]["no_swing"]) == (len(found), 1)
    for rate in answer["total"]["faults"]:
        told = [f for s in found for f in s.analysis.findings if f.fault == rate["fault"]]
        counts = Counter(f.status.value for f in told)
        assert {name: rate[name] for name in counts} == counts
        reasons = Counter(f.reason.code for f in told if f.reason and f.score is None)
        assert {r["reason"]: r["swings"] for r in rate["reasons"]} == reasons
    assert statuses(answer["total"], "elbows_separate")[0] >= 1


def test_texts_are_told_in_the_language_asked_for_and_figures_stay(
    keeper: TestClient, kept: list[KeptSwing]
) -> None:
    english, german, asked = (
        keeper.get(f"/v1/summary{query}", headers={"Accept-Language": accepted})
        for query, accepted in (("", "fr"), ("", "de-AT, en;q=0.5"), ("?by=view&lang=de", "en"))
    )
    assert [a.headers["Content-Language"] for a in (english, german, asked)] == ["en", "de", "de"]
    assert german.headers["Vary"] == "Accept-Language"
    say = language("de").say
    for ours, theirs in zip(*(a.json()["total"]["faults"] for a in (english, german)), strict=True):
        assert theirs["title"] == say(ours["title"]) != ours["title"]
        for mine, other in zip(ours["reasons"], theirs["reasons"], strict=True):
            assert other["text"] == say(mine["text"]) != mine["text"]
            assert other["film_instead"] == say(mine["film_instead"]) != mine["film_instead"]
            assert other["reason"] == mine["reason"]
        assert (ours["present"], ours["rate"]) == (theirs["present"], theirs["rate"])
    assert asked.json()["total"] == german.json()["total"]
    assert keeper.get("/v1/summary?lang=xx").status_code == 422


def test_groups_go_by_year_of_the_lesson(keeper: TestClient, kept: list[KeptSwing]) -> None:
    answer = keeper.get("/v1/summary?by=year").json()
    assert [(g["name"], g["swings"]) for g in answer["groups"]] == [("2024", 1), ("2025", 2)]


def test_groups_add_up_to_the_total(keeper: TestClient, kept: list[KeptSwing]) -> None:
    for by in GroupBy:
        answer = keeper.get(f"/v1/summary?by={by}").json()
        assert sum(g["swings"] for g in answer["groups"]) == answer["total"]["swings"] == 3, by
        assert sum(g["no_swing"] for g in answer["groups"]) == answer["total"]["no_swing"] == 1


def test_filters_keep_others_out(keeper: TestClient, kept: list[KeptSwing]) -> None:
    swings = {
        "club=driver": 1,
        "view=down_the_line": 1,
        "first_day=2025-01-01": 2,
        "last_day=2024-12-31": 1,
        f"player_id={kept[-1].meta.player_id}": 1,
    }
    for filters, count in swings.items():
        total = keeper.get(f"/v1/summary?{filters}").json()["total"]
        assert total["swings"] == count, filters


def test_nothing_kept_is_an_empty_summary(keeper: TestClient) -> None:
    total = keeper.get("/v1/summary?by=club").json()["total"]
    assert total == {"name": None, "swings": 0, "no_swing": 0, "faults": []}


def test_more_swings_than_one_answer_takes_are_refused_with_what_to_do(
    keeper: TestClient, kept: list[KeptSwing], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(summarise, "MOST_SWINGS", 3)
    answer = keeper.get("/v1/summary")
    assert answer.status_code == 422
    assert "Narrow the days" in answer.json()["parameters"][0]["fix"]
    assert keeper.get("/v1/summary?club=driver").status_code == 200


@pytest.mark.parametrize("wrong", ["by=coach", "first_day=2025-05-17&last_day=2025-05-16", "b=1"])
def test_a_wrong_filter_is_refused(keeper: TestClient, wrong: str) -> None:
    assert keeper.get(f"/v1/summary?{wrong}").status_code == 422


def test_swings_of_another_academy_are_not_counted(
    database: Database, kept: list[KeptSwing]
) -> None:
    with database.writing() as session:
        other = academies.add(session, "Links (invented)").id
    with database.on_behalf(Behalf(other)).reading() as session:
        for by in (None, *GroupBy):
            summary = summarise.summary_of_kept(session, SwingFilter(), by)
            assert (summary.total.swings, summary.total.no_swing) == (0, 0)
            assert summary.total.rates == ()
        assert not more_than(session, SwingFilter(), 0)
