"""Comparisons and progress over HTTP, on both databases."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from fastapi.testclient import TestClient

from service.analysis.types import Intent, View
from tests.records.kept import body_of, still_body
from training.simulator import Camera, EstimatorNoise, FaultAmounts, Golfer, film, swing_motion

JSON = {"Content-Type": "application/json"}
NOBODY = "01890000-0000-7000-8000-000000000000"


@cache
def drifting_body(
    amount: float, seed: int, intent: Intent = Intent.FULL_SPEED, view: View = View.FACE_ON
) -> bytes:
    """A swing that drifts off the ball by some amount, as a request."""
    motion = swing_motion(Golfer(), FaultAmounts(upper_body_drift=amount), intent=intent)
    rng = np.random.default_rng(seed)
    noise = EstimatorNoise(level=0.12, swaps=0.0, gaps=0.0)
    clip = film(motion, Camera.standing(view), fps=60.0, noise=noise, rng=rng)
    return body_of(clip, intent=intent, view=view)


def new_player(keeper: TestClient) -> str:
    return str(keeper.post("/v1/players", json={"name": "Ada"}).headers["location"])


def keep(keeper: TestClient, player: str, day: str, *bodies: bytes) -> list[str]:
    lesson = keeper.post(f"{player}/lessons", json={"date": day}).headers["location"]
    answers = [keeper.post(f"{lesson}/swings", content=b, headers=JSON) for b in bodies]
    return [answer.json()["swing"]["id"] for answer in answers]


def compare(keeper: TestClient, **ids: list[str]) -> dict[str, object]:
    answer = keeper.post("/v1/comparisons", json=ids)
    assert answer.status_code == 200, answer.text
    body: dict[str, object] = answer.json()
    return body


def drift_of(faults: object) -> dict[str, object]:
    assert isinstance(faults, list)
    return next(f for f in faults if f["fault"] == "upper_body_drift")


def test_a_swing_that_drifts_less_is_better_and_the_frames_are_aligned(
    keeper: TestClient,
) -> None:
    player = new_player(keeper)
    before, after = keep(keeper, player, "2025-05-17", drifting_body(1.3, 1), drifting_body(0.0, 2))
    answer = compare(keeper, before=[before], after=[after])
    change = drift_of(answer["faults"])
    assert change["verdict"] == "better"
    assert (change["before"]["status"], change["after"]["status"]) == ("present", "absent")
    assert answer["rehearsal"] is None
    aligned = answer["alignment"]
    assert aligned["positions"] == [float(p) for p in range(1, 11)]
    assert [s["swing_id"] for s in aligned["swings"]] == [before, after]


def test_the_other_way_round_it_is_worse(keeper: TestClient) -> None:
    player = new_player(keeper)
    before, after = keep(keeper, player, "2025-05-17", drifting_body(1.3, 1), drifting_body(0.0, 2))
    assert drift_of(compare(keeper, before=[after], after=[before])["faults"])["verdict"] == "worse"


@pytest.mark.parametrize(("amount", "outcome"), [(0.0, "holds"), (1.3, "lost_at_full_speed")])
def test_what_the_rehearsal_changed_is_followed_to_full_speed(
    keeper: TestClient, amount: float, outcome: str
) -> None:
    before, slow, after = keep(
        keeper,
        new_player(keeper),
        "2025-05-17",
        drifting_body(1.3, 1),
        drifting_body(0.0, 2, Intent.REHEARSAL),
        drifting_body(amount, 3),
    )
    answer = compare(keeper, before=[before], rehearsal=[slow], after=[after])
    assert drift_of(answer["rehearsal"])["outcome"] == outcome


def refused(keeper: TestClient, **ids: object) -> dict[str, object]:
    answer = keeper.post("/v1/comparisons", json=ids)
    assert answer.headers["content-type"] == "application/problem+json"
    problem: dict[str, object] = answer.json()
    assert problem["status"] == answer.status_code
    return problem


def test_different_views_and_players_and_clips_without_a_swing_cannot_be_compared(
    keeper: TestClient,
) -> None:
    one, other = new_player(keeper), new_player(keeper)
    front, line, still, fast, after = keep(
        keeper,
        one,
        "2025-05-17",
        drifting_body(0.0, 2),
        drifting_body(0.0, 2, view=View.DOWN_THE_LINE),
        still_body(),
        drifting_body(0.0, 3),
        drifting_body(0.0, 4),
    )
    (theirs,) = keep(keeper, other, "2025-05-17", drifting_body(0.0, 2))
    for partner in (line, still, theirs):
        problem = refused(keeper, before=[front], after=[partner])
        assert problem["type"] == "/problems/not-comparable"
        assert problem["status"] == 422
    problem = refused(keeper, before=[front], rehearsal=[fast], after=[after])
    assert problem["type"] == "/problems/not-comparable"


def test_a_swing_that_is_named_twice_is_refused(keeper: TestClient) -> None:
    problem = refused(keeper, before=["a", "b", "a"], rehearsal=["c"], after=["b"])
    assert [each["pointer"] for each in problem["errors"]] == ["/before/2", "/after/0"]


def test_an_unknown_swing_is_not_found_and_an_empty_side_is_pointed_at(
    keeper: TestClient,
) -> None:
    unknown = refused(keeper, before=[NOBODY], after=["x"])
    assert unknown["status"] == 404
    assert unknown["detail"] == "There is no such swing: /before/0, /after/0."
    problem = refused(keeper, before=[], after=[NOBODY])
    assert problem["type"] == "/problems/invalid-request"
    assert problem["errors"][0]["pointer"] == "/before"


def test_a_fault_that_was_gone_and_is_back_is_a_relapse(keeper: TestClient) -> None:
    player = new_player(keeper)
    keep(keeper, player, "2025-05-01", drifting_body(1.3, 1))
    keep(keeper, player, "2025-05-15", drifting_body(0.0, 2), drifting_body(0.0, 4))
    keep(keeper, player, "2025-06-01", drifting_body(1.3, 3))
    answer = keeper.get(f"{player}/progress")
    assert answer.status_code == 200, answer.text
    drift = drift_of(answer.json()["faults"])
    assert drift["trend"] == "relapse"
    assert drift["since"] == "2025-06-01"
    assert [p["date"] for p in drift["points"]] == ["2025-05-01", "2025-05-15", "2025-06-01"]
    measured = next(m for m in answer.json()["measures"] if m["name"] == "upper_body_drift")
    assert [p["estimate"]["count"] for p in measured["points"]] == [1, 2, 1]
    german = keeper.get(f"{player}/progress?lang=de")
    told = drift_of(german.json()["faults"])
    assert german.headers["Content-Language"] == "de"
    assert (told["title"], told["trend"]) == ("Wegwandern des Oberkörpers vom Ball", "relapse")


def test_an_analysis_is_told_in_the_language_asked_for_and_its_figures_stay(
    keeper: TestClient,
) -> None:
    path, body = "/v1/swings/analyze", drifting_body(1.3, 1)
    english, german = (
        keeper.post(f"{path}{query}", content=body, headers=JSON) for query in ("", "?lang=de")
    )
    assert [a.headers["Content-Language"] for a in (english, german)] == ["en", "de"]
    ours, theirs = (drift_of(a.json()["findings"]) for a in (english, german))
    assert theirs["title"] == "Wegwandern des Oberkörpers vom Ball"
    assert theirs["severity"] == ours["severity"]
    unseen = [
        {f["reason"]["code"]: f["reason"]["text"] for f in a.json()["findings"] if f["reason"]}
        for a in (english, german)
    ]
    assert unseen[0].keys() == unseen[1].keys() != set()
    assert all(unseen[0][code] != unseen[1][code] for code in unseen[0])


def test_progress_of_nobody_is_not_found(keeper: TestClient) -> None:
    assert keeper.get(f"/v1/players/{NOBODY}/progress").status_code == 404
