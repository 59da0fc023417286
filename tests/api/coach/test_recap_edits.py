"""A coach's edits and approval of a recap over HTTP."""

from __future__ import annotations

import json
from xml.etree import ElementTree

import pytest
from fastapi.testclient import TestClient
from jsonschema_rs import validator_for

from service.api.schemas.coach.edits import RecapEditsBody, read_edits
from service.intake.errors import InvalidRequest
from tests.api.coach.test_reviews import DRIFT, HEEL, REVIEWER, keys_of, review, word
from tests.api.routes.test_comparisons import NOBODY

SVG = "{http://www.w3.org/2000/svg}"
OWN = {
    "title": "Weaker <lead> hand",
    "work_on": "Turn the lead hand until two knuckles show.",
    "position": 1,
    "drawing": [
        {"shape": "line", "points": [[0.0, 0.0], [0.0, 1.1]], "label": "spine & neck"},
        {"shape": "angle", "points": [[-0.3, 0.6], [0.0, 0.5], [0.3, 0.9]]},
        {"shape": "circle", "points": [[0.0, 0.95]], "radius": 0.1},
    ],
}


def edits(*keys: dict[str, object]) -> dict[str, object]:
    return {"reviewer": REVIEWER, "keys": list(keys)}


def put(
    keeper: TestClient, lesson: str, *keys: dict[str, object], **headers: str
) -> dict[str, object]:
    answer = keeper.put(f"{lesson}/recap/edits", json=edits(*keys), headers=headers)
    assert answer.status_code in (200, 201), answer.text
    told: dict[str, object] = answer.json()
    return told


def test_edits_are_made_read_and_changed_by_who_read_them(keeper: TestClient, lesson: str) -> None:
    path = f"{lesson}/recap/edits"
    assert keeper.get(path).status_code == 404
    made = keeper.put(path, json=edits(OWN), headers={"If-None-Match": "*"})
    assert (made.status_code, made.headers["etag"], made.headers["location"]) == (201, '"1"', path)
    read = keeper.get(path)
    assert (read.json(), read.headers["etag"]) == (made.json(), '"1"')
    assert read.json()["keys"][0]["drawing"][2]["radius"] == 0.1
    assert keeper.put(path, json=edits(OWN)).status_code == 200, "sent again it changes nothing"
    assert keeper.put(path, json=edits()).status_code == 428
    assert keeper.put(path, json=edits(), headers={"If-Match": '"2"'}).status_code == 412
    assert keeper.put(path, json=edits(), headers={"If-None-Match": "*"}).status_code == 412
    changed = keeper.put(path, json=edits(), headers={"If-Match": '"1"'})
    assert (changed.status_code, changed.headers["etag"]) == (200, '"2"')
    assert keeper.put(f"/v1/lessons/{NOBODY}/recap/edits", json=edits()).status_code == 404


def test_a_key_of_the_coach_s_own_is_drawn_over_its_position_and_escaped(
    keeper: TestClient, lesson: str, swing: str
) -> None:
    put(keeper, lesson, OWN)
    told = keeper.get(f"{lesson}/recap").json()
    (own,) = told["own_keys"]
    assert (own["place"], own["position"], own["swing_id"]) == (1, 1, swing.rsplit("/", 1)[1])
    assert len(keys_of(told)) == 1, "the service's own key comes after it"
    page = keeper.get(f"{lesson}/recap.html").text
    assert "1. Weaker &lt;lead&gt; hand" in page
    assert "spine &amp; neck" in page
    assert "from your coach" in page
    start = page.index("<svg", page.index("Weaker &lt;lead&gt; hand"))
    picture = ElementTree.fromstring(page[start : page.index("</figure>", start)])
    drawn = {e.tag.removeprefix(SVG) for e in picture.iter()}
    assert {"path", "polyline", "circle", "text"} <= drawn
    alone = keeper.get(own["picture"])
    assert alone.headers["content-type"].startswith("image/svg+xml")
    assert "spine &amp; neck" in alone.text
    for other in ("/2/", "/9/"):
        assert keeper.get(own["picture"].replace("/1/", other)).status_code == 404


def test_keys_are_reworded_and_hidden(keeper: TestClient, lesson: str) -> None:
    assert keys_of(keeper.get(f"{lesson}/recap").json())[0] == DRIFT
    put(keeper, lesson, {"fault": DRIFT, "work_on": "Turn over a <still> head."})
    told = keeper.get(f"{lesson}/recap").json()["story"]["priorities"][0]
    assert (told["work_on"], told["reworded"]) == ("Turn over a <still> head.", ["work_on"])
    assert "Turn over a &lt;still&gt; head." in keeper.get(f"{lesson}/recap.html").text
    put(keeper, lesson, {"fault": DRIFT, "hidden": True}, **{"If-Match": '"1"'})
    hidden = keeper.get(f"{lesson}/recap").json()
    assert DRIFT not in keys_of(hidden)
    assert hidden["story"]["hidden"] == [DRIFT]


def test_a_key_of_a_fault_that_is_not_found_is_refused_with_what_to_do_instead(
    keeper: TestClient, lesson: str, swing: str
) -> None:
    found = keys_of(keeper.get(f"{lesson}/recap").json())
    key = {"fault": HEEL, "work_on": "Keep the heel down."}
    assert HEEL not in found
    refused = keeper.put(f"{lesson}/recap/edits", json=edits({"fault": DRIFT}, key))
    assert refused.status_code == 422, refused.text
    (error,) = refused.json()["errors"]
    assert error["pointer"] == "/keys/1/fault"
    assert f"/findings/{HEEL}/review" in error["fix"]
    assert keeper.get(f"{lesson}/recap/edits").status_code == 404, "nothing was kept"
    put(keeper, lesson, {"fault": HEEL, "hidden": True})
    keeper.put(review(swing, HEEL), json=word("confirm"))
    put(keeper, lesson, {"fault": DRIFT}, key, **{"If-Match": '"1"'})
    assert keys_of(keeper.get(f"{lesson}/recap").json()) == [DRIFT, HEEL]


def test_a_key_whose_fault_is_no_longer_found_is_told_to_the_coach(
    keeper: TestClient, lesson: str, swing: str
) -> None:
    key = {"fault": DRIFT, "work_on": "Turn over a still head."}
    put(keeper, lesson, key)
    assert why(keeper, lesson) == ["not_approved"]
    keeper.put(review(swing), json=word())
    assert why(keeper, lesson) == ["not_approved", "key_not_found"]
    put(keeper, lesson, key)
    assert approve(keeper, lesson) == 200
    assert why(keeper, lesson) == [], "the coach read that it is left out"


def test_an_empty_lesson_has_no_keys_to_edit_but_one_s_own(keeper: TestClient) -> None:
    player = keeper.post("/v1/players", json={"name": "Ada"}).headers["location"]
    lesson = keeper.post(f"{player}/lessons", json={"date": "2025-05-17"}).headers["location"]
    refused = keeper.put(f"{lesson}/recap/edits", json=edits({"fault": DRIFT}))
    assert refused.status_code == 422
    put(keeper, lesson, OWN)


def without(name: str) -> dict[str, object]:
    return {key: value for key, value in OWN.items() if key != name}


def drawn(**shape: object) -> dict[str, object]:
    return {**OWN, "drawing": [shape]}


@pytest.mark.parametrize(
    ("keys", "pointer"),
    [
        ([{"fault": "flying"}], "/keys/0/fault"),
        ([{"fault": DRIFT}, {"fault": DRIFT}], ""),
        ([{"fault": DRIFT, "position": 4}], "/keys/0"),
        ([OWN, without("title")], "/keys/1"),
        ([without("work_on")], "/keys/0"),
        ([without("position")], "/keys/0"),
        ([{**OWN, "hidden": True}], "/keys/0"),
        ([OWN] * 4, ""),
        ([{**OWN, "position": 11}], "/keys/0/position"),
        ([{**OWN, "position": 4.5}], "/keys/0/position"),
        ([{**OWN, "title": ""}], "/keys/0/title"),
        ([{**OWN, "effect": "x" * 1001}], "/keys/0/effect"),
        ([{**OWN, "colour": "red"}], "/keys/0/colour"),
        ([drawn(shape="star", points=[[0, 0]])], "/keys/0/drawing/0/shape"),
        ([drawn(shape="line", points=[[0, 0]])], "/keys/0/drawing/0"),
        ([drawn(shape="line", points=[[0, 0], [0, 0]])], "/keys/0/drawing/0"),
        ([drawn(shape="circle", points=[[0, 0]])], "/keys/0/drawing/0"),
        ([drawn(shape="circle", points=[[0, 0]], radius=2)], "/keys/0/drawing/0/radius"),
        ([drawn(shape="circle", points=[[0, 0]], radius="0.2")], "/keys/0/drawing/0/radius"),
        ([drawn(shape="line", points=[[0, 0], [0, 9]])], "/keys/0/drawing/0/points/1"),
        ([drawn(shape="line", points=[[0, 0], ["a", 1]])], "/keys/0/drawing/0/points/1/0"),
        ([{**OWN, "drawing": [OWN["drawing"][0]] * 13}], "/keys/0/drawing"),
    ],
)
def test_edits_that_break_the_contract_are_refused_with_a_pointer(
    keys: list[dict[str, object]], pointer: str
) -> None:
    with pytest.raises(InvalidRequest) as refused:
        read_edits(json.dumps(edits(*keys)).encode())
    (error,) = refused.value.errors
    assert error.pointer == pointer
    assert error.problem
    assert error.fix


@pytest.mark.parametrize(
    "key",
    [
        {"fault": DRIFT, "position": 4},
        without("title"),
        {**OWN, "hidden": True},
        drawn(shape="line", points=[[0, 0]]),
        drawn(shape="line", points=[[0, 0], [0, 1]], radius=0.1),
        drawn(shape="angle", points=[[0, 0], [0, 1]]),
        drawn(shape="circle", points=[[0, 0]]),
        drawn(shape="circle", points=[[0, 0], [0, 1]], radius=0.1),
        drawn(shape="line", points=[[0, 0], [0, 9]]),
    ],
)
def test_the_schema_refuses_the_key_that_the_service_refuses(key: dict[str, object]) -> None:
    schema = validator_for(RecapEditsBody.model_json_schema())
    assert not schema.is_valid(edits(key))
    assert schema.is_valid(edits(OWN, {"fault": DRIFT, "hidden": True}))
    with pytest.raises(InvalidRequest):
        read_edits(json.dumps(edits(key)).encode())


@pytest.mark.parametrize(
    ("key", "wanted"),
    [
        ({**OWN, "position": 11}, "from 1 to 10"),
        ({"fault": DRIFT, "hidden": "yes"}, "true or false"),
        (drawn(shape="star", points=[[0, 0]]), "line, angle, circle"),
        ({**OWN, "colour": "red"}, "fields are fault"),
    ],
)
def test_the_fix_is_that_of_the_field(key: dict[str, object], wanted: str) -> None:
    with pytest.raises(InvalidRequest) as refused:
        read_edits(json.dumps(edits(key)).encode())
    assert wanted in refused.value.errors[0].fix


def test_a_position_may_be_written_with_a_point() -> None:
    (key,) = read_edits(json.dumps(edits({**OWN, "position": 4.0})).encode()).keys
    assert key.position == 4


def approve(keeper: TestClient, lesson: str, fingerprint: str | None = None) -> int:
    seen = fingerprint or keeper.get(f"{lesson}/recap").json()["standing"]["fingerprint"]
    body = {"reviewer": REVIEWER, "fingerprint": seen}
    return keeper.post(f"{lesson}/recap/approval", json=body).status_code


def why(keeper: TestClient, lesson: str) -> list[str]:
    standing = keeper.get(f"{lesson}/recap").json()["standing"]
    assert standing["draft"] == bool(standing["why"])
    page = keeper.get(f"{lesson}/recap.html").text
    assert (">Draft</strong>" in page) == standing["draft"]
    assert ("Approved by your coach on " in page) != standing["draft"]
    for reason in standing["why"]:
        assert reason["text"].replace("'", "&#39;") in page
    return [reason["code"] for reason in standing["why"]]


def test_a_recap_is_a_draft_until_it_is_approved_and_again_once_its_findings_change(
    keeper: TestClient, lesson: str, swing: str
) -> None:
    assert why(keeper, lesson) == ["not_approved"]
    assert approve(keeper, lesson) == 200
    assert why(keeper, lesson) == []
    last = keeper.get(f"{lesson}/recap").json()["standing"]["approval"]
    assert (last["reviewer"], last["withdrawn"]) == (REVIEWER, False)
    keeper.post(f"{swing}/reanalyse")
    assert why(keeper, lesson) == [], "a new analysis that finds the same changes nothing"
    keeper.put(review(swing), json=word())
    assert set(why(keeper, lesson)) == {"findings_changed", "keys_changed"}
    keeper.delete(review(swing), params={"reviewer": REVIEWER})
    assert why(keeper, lesson) == [], "it tells again what was approved"
    put(keeper, lesson, {"fault": DRIFT, "dose": "Ten a day."})
    assert why(keeper, lesson) == ["keys_edited"]
    assert approve(keeper, lesson) == 200
    assert why(keeper, lesson) == []
    keeper.patch(lesson, json={"coach_note": "Else."}, headers={"If-Match": "*"})
    assert why(keeper, lesson) == ["note_changed"]


def test_an_approval_is_withdrawn_once(keeper: TestClient, lesson: str) -> None:
    path, who = f"{lesson}/recap/approval", {"reviewer": "Cleo Invented"}
    assert keeper.delete(path, params=who).status_code == 404
    assert approve(keeper, lesson) == 200
    assert keeper.delete(path, params=who).status_code == 204
    assert why(keeper, lesson) == ["approval_withdrawn"]
    assert keeper.delete(path, params=who).status_code == 404


def test_an_approval_sent_again_with_its_key_does_not_undo_what_came_after(
    keeper: TestClient, lesson: str
) -> None:
    path, key = f"{lesson}/recap/approval", {"Idempotency-Key": "once"}
    body = {
        "reviewer": REVIEWER,
        "fingerprint": keeper.get(f"{lesson}/recap").json()["standing"]["fingerprint"],
    }
    first = keeper.post(path, json=body, headers=key)
    assert first.status_code == 200
    keeper.delete(path, params={"reviewer": REVIEWER})
    assert keeper.post(path, json=body, headers=key).json() == first.json()
    assert why(keeper, lesson) == ["approval_withdrawn"]
    other = keeper.post(path, json=body | {"reviewer": "Another"}, headers=key)
    assert other.status_code == 422


def test_what_the_coach_did_not_read_is_not_approved(
    keeper: TestClient, lesson: str, swing: str
) -> None:
    seen = keeper.get(f"{lesson}/recap").json()["standing"]["fingerprint"]
    keeper.put(review(swing), json=word())
    assert approve(keeper, lesson, seen) == 412
    assert why(keeper, lesson) == ["not_approved"]
    assert approve(keeper, lesson, "no fingerprint") == 422
    assert approve(keeper, f"/v1/lessons/{NOBODY}", seen) == 404
