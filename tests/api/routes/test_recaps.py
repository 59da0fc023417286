"""Recaps and pictures over HTTP, on both databases."""

from __future__ import annotations

import re
from typing import Final
from xml.etree import ElementTree

import pytest
from fastapi.testclient import TestClient

from service.analysis.types import Intent
from tests.api.routes.test_comparisons import JSON, NOBODY, drifting_body

SVG = "{http://www.w3.org/2000/svg}svg"
IN_CENTIMETRES: Final = re.compile(r"\d\s+cm\b[^<]*</text>")


@pytest.fixture
def lesson(keeper: TestClient) -> str:
    """Path of a lesson with a swing before, a rehearsal and a swing after."""
    player = keeper.post("/v1/players", json={"name": "Ada <b>& Co</b>"}).headers["location"]
    path = str(
        keeper.post(
            f"{player}/lessons", json={"date": "2025-05-17", "coach_note": "Turn, don't sway."}
        ).headers["location"]
    )
    for role, body in (
        ("before", drifting_body(1.3, 1)),
        ("rehearsal", drifting_body(0.0, 2, Intent.REHEARSAL)),
        ("after", drifting_body(1.3, 3)),
    ):
        answer = keeper.post(f"{path}/swings", content=body, headers=JSON, params={"role": role})
        assert answer.status_code == 201, answer.text
    return path


def test_the_recap_tells_the_key_what_held_and_the_pictures(
    keeper: TestClient, lesson: str
) -> None:
    recap = keeper.get(f"{lesson}/recap")
    assert recap.status_code == 200, recap.text
    told = recap.json()
    assert told["coach_note"] == "Turn, don't sway."
    assert [s["role"] for s in told["swings"]] == ["before", "rehearsal", "after"]
    assert told["story"]["priorities"][0]["finding"]["fault"] == "upper_body_drift"
    assert len(told["story"]["priorities"]) <= 2
    assert told["cautions"]
    held = {t["transfer"]["fault"]: t["transfer"]["outcome"] for t in told["rehearsal"]}
    assert held["upper_body_drift"] == "lost_at_full_speed"
    lost = (
        "Got better in the slow rehearsal, but not at full speed: upper body drifting off the ball."
    )
    assert lost in told["news"]
    assert told["without_keys"] is None
    assert 0 < told["judged"] < 16
    assert told["pictures"]
    for picture in told["pictures"]:
        for path in (picture["before"], picture["after"]):
            assert keeper.get(path).headers["content-type"].startswith("image/svg+xml")


def test_what_a_rehearsal_changed_is_part_of_what_was_approved(
    keeper: TestClient, lesson: str
) -> None:
    rehearsal = keeper.get(f"{lesson}/recap").json()["swings"][1]["id"]
    seen = keeper.get(f"{lesson}/recap").json()
    body = {"reviewer": "Bo (invented)", "fingerprint": seen["standing"]["fingerprint"]}
    assert keeper.post(f"{lesson}/recap/approval", json=body).json()["draft"] is False
    keeper.delete(f"/v1/swings/{rehearsal}")
    now = keeper.get(f"{lesson}/recap").json()
    assert now["news"] != seen["news"]
    assert [reason["code"] for reason in now["standing"]["why"]] == ["changes_changed"]


def test_what_came_back_since_earlier_lessons_is_part_of_what_was_approved(
    keeper: TestClient,
) -> None:
    player = keeper.post("/v1/players", json={"name": "Ines Calder (invented)"}).headers["location"]
    lessons = []
    for day, drift in (("2025-05-17", 1.3), ("2025-06-17", 0.0), ("2025-07-17", 1.3)):
        made = keeper.post(f"{player}/lessons", json={"date": day})
        lessons.append(made.headers["location"])
        keeper.post(f"{lessons[-1]}/swings", content=drifting_body(drift, 4), headers=JSON)
    seen = keeper.get(f"{lessons[-1]}/recap").json()
    assert "Was gone and is back: upper body drifting off the ball." in seen["news"]
    body = {"reviewer": "Bo (invented)", "fingerprint": seen["standing"]["fingerprint"]}
    assert keeper.post(f"{lessons[-1]}/recap/approval", json=body).json()["draft"] is False
    keeper.delete(lessons[0])
    now = keeper.get(f"{lessons[-1]}/recap").json()
    assert "Got worse: upper body drifting off the ball." in now["news"]
    assert [reason["code"] for reason in now["standing"]["why"]] == ["changes_changed"]


def test_a_recap_in_german_has_german_titles_and_reasons_and_the_coachs_own_words(
    keeper: TestClient, lesson: str
) -> None:
    english, german = (
        keeper.get(f"{lesson}/recap", params={"lang": code}).json() for code in ("en", "de")
    )
    assert german["coach_note"] == english["coach_note"]
    assert german["standing"]["why"][0]["code"] == english["standing"]["why"][0]["code"]
    assert german["standing"]["why"][0]["text"] != english["standing"]["why"][0]["text"]
    found, gefunden = (r["story"]["priorities"][0]["finding"] for r in (english, german))
    assert found["fault"] == gefunden["fault"]
    assert found["title"] != gefunden["title"]
    assert found["evidence"][0]["title"] != gefunden["evidence"][0]["title"]


def test_the_page_is_html_and_escapes_what_people_wrote(keeper: TestClient, lesson: str) -> None:
    page = keeper.get(f"{lesson}/recap.html")
    assert page.status_code == 200
    assert page.headers["content-type"].startswith("text/html")
    assert "Ada &lt;b&gt;&amp; Co&lt;/b&gt;" in page.text
    assert "<script" not in page.text
    assert len(page.content) < 500_000


def test_a_position_between_two_is_drawn(keeper: TestClient, lesson: str) -> None:
    swing = keeper.get(f"{lesson}/recap").json()["swings"][0]["id"]
    picture = keeper.get(f"/v1/swings/{swing}/frames/3.5.svg")
    assert picture.status_code == 200
    assert ElementTree.fromstring(picture.text).tag == SVG


def test_a_picture_of_the_recap_shows_the_fault_s_own_measure(
    keeper: TestClient, lesson: str
) -> None:
    told = keeper.get(f"{lesson}/recap").json()["pictures"][0]
    picture = keeper.get(told["after"])
    assert picture.status_code == 200
    assert ElementTree.fromstring(picture.text).tag == SVG
    assert told["title"] in picture.text
    refused = keeper.get(told["after"].split("?")[0], params={"fault": "flying"})
    assert refused.status_code == 404
    assert "no fault named" in refused.json()["detail"]


def test_the_recap_is_told_in_the_language_asked_for(keeper: TestClient, lesson: str) -> None:
    page = f"{lesson}/recap.html"
    for query, accepted, code in (
        ({}, None, "en"),
        ({"lang": "de"}, "en", "de"),
        ({}, "fr, de;q=0.5", "de"),
        ({}, "fr", "en"),
    ):
        headers = {"Accept-Language": accepted} if accepted else {"Accept-Language": ""}
        answer = keeper.get(page, params=query, headers=headers)
        assert answer.status_code == 200
        assert answer.headers["content-language"] == code
        assert "accept-language" in answer.headers["vary"].lower()
        assert f'<html lang="{code}">' in answer.text
    told = keeper.get(f"{lesson}/recap", params={"lang": "de"}).json()
    assert "von vorn" in told["story"]["priorities"][0]["check"]["text"].lower()
    refused = keeper.get(page, params={"lang": "xx"})
    assert refused.status_code == 422
    (wrong,) = refused.json()["parameters"]
    assert wrong["parameter"] == "lang"
    assert "en, de" in wrong["problem"]


def test_lengths_are_in_centimetres_once_the_height_is_known(
    keeper: TestClient, lesson: str
) -> None:
    page = f"{lesson}/recap.html"
    assert "hand-width" in keeper.get(page).text
    player = keeper.get(lesson).json()["player_id"]
    headers = {"If-Match": "*"}
    kept = keeper.patch(f"/v1/players/{player}", json={"height_cm": 181.5}, headers=headers)
    assert (kept.status_code, kept.json()["height_cm"]) == (200, 181.5)
    told = keeper.get(page).text
    assert "hand-width" not in told
    assert IN_CENTIMETRES.search(told)
    picture = keeper.get(keeper.get(f"{lesson}/recap").json()["pictures"][0]["after"])
    assert IN_CENTIMETRES.search(picture.text)


@pytest.mark.parametrize("position", ["0.5", "11", "nan"])
def test_a_position_outside_the_swing_is_refused(
    keeper: TestClient, lesson: str, position: str
) -> None:
    swing = keeper.get(f"{lesson}/recap").json()["swings"][0]["id"]
    answer = keeper.get(f"/v1/swings/{swing}/frames/{position}.svg")
    assert answer.status_code in {404, 422}
    assert answer.headers["content-type"] == "application/problem+json"


def test_nobodys_recap_and_picture_are_not_found(keeper: TestClient) -> None:
    for path in ("lessons/{}/recap", "lessons/{}/recap.html", "swings/{}/frames/4.svg"):
        assert keeper.get("/v1/" + path.format(NOBODY)).status_code == 404


def test_a_lesson_without_swings_has_a_recap_that_says_little(keeper: TestClient) -> None:
    player = keeper.post("/v1/players", json={"name": "Ada"}).headers["location"]
    empty = keeper.post(f"{player}/lessons", json={"date": "2025-05-17"}).headers["location"]
    told = keeper.get(f"{empty}/recap").json()
    assert told["swings"] == told["pictures"] == told["news"] == []
    assert told["without_keys"] == "No swing of this lesson has been recorded yet."
    assert keeper.get(f"{empty}/recap.html").status_code == 200
