"""A coach's reviews over HTTP, what becomes of the recap, and agreement."""

from __future__ import annotations

import io
import json
import zipfile
from html import unescape

import pytest
from fastapi.testclient import TestClient

from service.analysis.types import Intent
from service.api.schemas.coach.reviews import read_review
from service.intake.errors import InvalidRequest
from tests.api.routes.test_comparisons import JSON, NOBODY, drifting_body

DRIFT = "upper_body_drift"
HEEL = "trail_heel_kick"
REVIEWER = "Bo Invented"


def review(swing: str, fault: str = DRIFT) -> str:
    return f"{swing}/findings/{fault}/review"


def word(verdict: str = "reject", **more: object) -> dict[str, object]:
    return {"verdict": verdict, "reviewer": REVIEWER, **more}


def keys_of(recap: dict[str, object]) -> list[str]:
    story = recap["story"]
    assert isinstance(story, dict)
    return [p["finding"]["fault"] for p in story["priorities"]]


def _page(client: TestClient, lesson: str) -> str:
    """The page's text, with what stands for a sign in HTML written as that sign."""
    return unescape(client.get(f"{lesson}/recap.html").text)


def test_a_review_is_made_changed_withdrawn_and_its_history_kept(
    keeper: TestClient, swing: str
) -> None:
    path = review(swing)
    assert keeper.get(path).status_code == 404
    made = keeper.put(path, json=word("confirm", grade="marked", note="clear"))
    assert (made.status_code, made.headers["etag"]) == (201, '"1"')
    assert made.headers["location"] == path
    assert keeper.get(path).json() == made.json()
    assert (made.json()["analysis"], made.json()["grade"]) == (1, "marked")
    same = keeper.put(path, json=word("confirm", grade="marked", note="clear"))
    assert (same.status_code, same.json()) == (200, made.json())
    assert keeper.put(path, json=word()).status_code == 428
    for stale in ({"If-Match": '"7"'}, {"If-None-Match": "*"}):
        refused = keeper.put(path, json=word(), headers=stale)
        assert (refused.status_code, refused.json()["type"]) == (412, "/problems/stale-version")
    changed = keeper.put(path, json=word(), headers={"If-Match": '"1"'})
    assert (changed.status_code, changed.headers["etag"]) == (200, '"2"')
    who = {"reviewer": "Cleo Invented"}
    assert keeper.delete(path, params=who, headers={"If-Match": '"1"'}).status_code == 412
    assert keeper.delete(path).status_code == 422, "nobody withdraws it"
    assert keeper.delete(path, params=who).status_code == 204
    assert keeper.delete(path, params=who).status_code == 404
    assert keeper.put(path, json=word(), headers={"If-Match": '"2"'}).status_code == 412
    told = keeper.get(f"{path}/history").json()["items"]
    assert [(e["verdict"], e["reviewer"]) for e in told] == [
        ("confirm", REVIEWER),
        ("reject", REVIEWER),
        (None, "Cleo Invented"),
    ]


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        (word("perhaps"), "/verdict"),
        (word("reject", grade="mild"), ""),
        (word(reviewer=" "), "/reviewer"),
        (word(note="a\0b"), "/note"),
        (word(analysis=0), "/analysis"),
        (word(sure=1), "/sure"),
        ({"verdict": "reject"}, "/reviewer"),
    ],
)
def test_a_review_that_breaks_the_contract_is_refused_with_a_pointer(
    body: dict[str, object], pointer: str
) -> None:
    with pytest.raises(InvalidRequest) as refused:
        read_review(json.dumps(body).encode())
    (error,) = refused.value.errors
    assert error.pointer == pointer
    assert error.fix


def test_a_refused_review_is_a_problem_with_the_pointer(keeper: TestClient) -> None:
    answer = keeper.put(review(f"/v1/swings/{NOBODY}"), json=word("perhaps"))
    assert (answer.status_code, answer.json()["type"]) == (422, "/problems/invalid-request")
    assert answer.json()["errors"][0]["pointer"] == "/verdict"


def test_nobody_s_swing_unknown_faults_and_analyses_are_not_found(
    keeper: TestClient, swing: str
) -> None:
    for path in (review(f"/v1/swings/{NOBODY}"), review(swing, "flying")):
        answers = [
            keeper.put(path, json=word()),
            keeper.get(path),
            keeper.get(f"{path}/history"),
            keeper.delete(path, params={"reviewer": "Bo"}),
        ]
        assert {answer.status_code for answer in answers} == {404}, path
    assert keeper.put(review(swing), json=word(analysis=2)).status_code == 404


def test_what_a_coach_rejects_is_no_key_any_more_and_survives_a_new_analysis(
    keeper: TestClient, lesson: str, swing: str
) -> None:
    assert DRIFT in keys_of(keeper.get(f"{lesson}/recap").json())
    keeper.put(review(swing), json=word())
    for _ in range(2):
        told = keeper.get(f"{lesson}/recap").json()
        assert DRIFT not in keys_of(told)
        assert DRIFT not in {p["fault"] for p in told["pictures"]}
        assert DRIFT not in {k["fault"] for k in told["story"]["keep"]}
        (view,) = told["coach_views"]
        assert (view["fault"], view["status"], view["service"]) == (DRIFT, "absent", "present")
        assert view["contradicts"]
        before, fold, after = _page(keeper, lesson).partition('<div class="second"')
        assert view["title"] not in before
        assert "Your coach's view" in fold + after
        assert view["text"] in after
        keeper.post(f"{swing}/reanalyse")
    newest = keeper.get(f"{swing}/analysis").json()["findings"]
    (found,) = [f for f in newest if f["fault"] == DRIFT]
    assert (found["status"], found["review"]["verdict"]) == ("present", "reject")
    assert found["review"]["analysis"] == 1
    assert sum(f["review"] is not None for f in newest) == 1


def test_what_a_coach_rejects_of_the_swings_after_is_neither_news_nor_compared(
    keeper: TestClient, lesson: str, swing: str
) -> None:
    keeper.patch(swing, json={"role": "before"}, headers={"If-Match": "*"})
    slow = drifting_body(0.0, 2, Intent.REHEARSAL)
    for role, body in (("rehearsal", slow), ("after", drifting_body(1.3, 3))):
        made = keeper.post(f"{lesson}/swings", content=body, headers=JSON, params={"role": role})
    told = keeper.get(f"{lesson}/recap").json()
    assert DRIFT in {t["transfer"]["fault"] for t in told["rehearsal"]}
    keeper.put(review(made.headers["location"]), json=word())
    told = keeper.get(f"{lesson}/recap").json()
    assert DRIFT not in {t["transfer"]["fault"] for t in told["rehearsal"]}
    (change,) = [f for c in told["comparisons"] for f in c["faults"] if f["fault"] == DRIFT]
    assert (change["verdict"], change["reason"]["code"]) == ("not_comparable", "coachs_view")
    shown, _, _ = _page(keeper, lesson).partition('<div class="second"')
    assert change["title"].lower() not in shown.lower()


def test_what_a_coach_confirms_is_told_as_the_coach_s_own_without_a_confidence(
    keeper: TestClient, lesson: str, swing: str
) -> None:
    findings = keeper.get(f"{swing}/analysis").json()["findings"]
    unseen = next(f["fault"] for f in findings if f["status"] == "not_assessable")
    keeper.put(review(swing, unseen), json=word("confirm", grade="marked"))
    told = keeper.get(f"{lesson}/recap").json()
    (key,) = [p for p in told["story"]["priorities"] if p["finding"]["fault"] == unseen]
    finding = key["finding"]
    assert (finding["status"], finding["grade"]) == ("present", "marked")
    assert finding["confidence"] is finding["chance"] is finding["score"] is None
    assert finding["evidence"] == []
    assert unseen not in {p["fault"] for p in told["pictures"]}, "its figures are not to be had"
    page = _page(keeper, lesson)
    assert "seen by your coach" in page
    assert "Marked, your coach's view." in page


def test_progress_and_comparison_say_that_the_coach_decided(
    keeper: TestClient, lesson: str, swing: str
) -> None:
    keeper.put(review(swing), json=word())
    player = keeper.get(lesson).json()["player_id"]
    faults = keeper.get(f"/v1/players/{player}/progress").json()["faults"]
    (drift,) = [f for f in faults if f["fault"] == DRIFT]
    settled = drift["points"][0]["settled"]
    assert (settled["status"], settled["confidence"], settled["by_coach"]) == ("absent", None, True)
    made = keeper.post(f"{lesson}/swings", content=drifting_body(0.0, 3), headers=JSON)
    one, other = (path.rsplit("/", 1)[1] for path in (swing, made.headers["location"]))
    compared = keeper.post("/v1/comparisons", json={"before": [one], "after": [other]}).json()
    (change,) = [f for f in compared["faults"] if f["fault"] == DRIFT]
    assert change["before"]["by_coach"]
    assert change["after"]["status"] == "absent"


def test_reviews_show_in_the_agreement_of_service_and_coaches(
    keeper: TestClient, swing: str
) -> None:
    nothing = keeper.get("/v1/model/agreement").json()
    assert (nothing["reviews"], nothing["overall"]["kappa"], nothing["by_fault"]) == (0, None, [])
    assert nothing["overall"]["reason"]["code"] == "no_pairs"
    findings = keeper.get(f"{swing}/analysis").json()["findings"]
    statuses = {f["fault"]: f["status"] for f in findings}
    absent = [fault for fault, status in statuses.items() if status == "absent"]
    unseen = next(fault for fault, status in statuses.items() if status == "not_assessable")
    for fault, verdict in (
        (DRIFT, "confirm"),
        (absent[0], "reject"),
        (absent[1], "confirm"),
        (unseen, "confirm"),
        (absent[2], "unsure"),
    ):
        assert keeper.put(review(swing, fault), json=word(verdict)).status_code == 201
    told = keeper.get("/v1/model/agreement").json()
    counts = told["overall"]
    assert told["reviews"] == 5
    assert (counts["both"], counts["neither"], counts["coach_only"]) == (1, 1, 1)
    assert (counts["service_unsure"], counts["coach_unsure"]) == (1, 1)
    # 2 of 3 agree; 1/3 x 2/3 + 2/3 x 1/3 = 4/9 by chance: (6/9 - 4/9) / (5/9) = 0.4.
    assert counts["kappa"]["value"] == pytest.approx(0.4)
    low, high = counts["kappa"]["interval"]
    assert -1.0 <= low < 0.4 < high <= 1.0
    assert {f["fault"] for f in told["by_fault"]} == {DRIFT, unseen, *absent[:3]}
    assert [v["view"] for v in told["by_view"]] == ["face_on"]
    assert sum(map(sum, told["grades"]["table"])) == 1, "the coach graded none of the present ones"


def test_the_export_of_a_player_holds_what_coaches_said(
    keeper: TestClient, lesson: str, swing: str
) -> None:
    keeper.put(review(swing), json=word(note="sways"))
    keeper.put(f"{lesson}/recap/edits", json={"reviewer": REVIEWER, "keys": []})
    standing = keeper.get(f"{lesson}/recap").json()["standing"]
    approval = {"reviewer": REVIEWER, "fingerprint": standing["fingerprint"]}
    assert keeper.post(f"{lesson}/recap/approval", json=approval).status_code == 200
    player = keeper.get(lesson).json()["player_id"]
    archive = zipfile.ZipFile(io.BytesIO(keeper.get(f"/v1/players/{player}/export").content))
    files = {name.rsplit("/", 1)[-1]: json.loads(archive.read(name)) for name in archive.namelist()}
    assert files["reviews.json"][0]["note"] == "sways"
    assert files["recap-edits.json"]["reviewer"] == REVIEWER
    assert files["recap-approvals.json"][0]["reviewer"] == REVIEWER


def test_consent_to_learning_is_asked_for_and_no_by_default(keeper: TestClient) -> None:
    plain = keeper.post("/v1/players", json={"name": "Ada"})
    assert plain.json()["training_consent"] is False
    path = plain.headers["location"]
    yes = keeper.patch(path, json={"training_consent": True}, headers={"If-Match": '"1"'})
    assert yes.json()["training_consent"] is True
    assert keeper.get(path).json()["training_consent"] is True
    for wrong in (None, 1, "yes"):
        refused = keeper.patch(path, json={"training_consent": wrong}, headers={"If-Match": "*"})
        assert refused.json()["errors"][0]["pointer"] == "/training_consent"
