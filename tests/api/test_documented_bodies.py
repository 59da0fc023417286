"""The bodies that the documentation shows are taken as they stand."""

from __future__ import annotations

import json
from typing import Any

from fastapi.testclient import TestClient
from httpx import Response

from service.api.docs.bodies import BODIES, LINES
from service.examples import EXAMPLES


def test_every_body_that_takes_json_is_shown(client: TestClient) -> None:
    contract = client.get("/openapi.json").json()
    takes = {
        (path, method)
        for path, operations in contract["paths"].items()
        for method, operation in operations.items()
        if "application/json" in operation.get("requestBody", {}).get("content", {})
    }
    assert takes == set(BODIES)


def test_each_body_is_taken_on_the_way_from_a_player_to_a_recap(keeper: TestClient) -> None:
    ids: dict[str, str] = {"fault": "trail_heel_kick"}

    def send(method: str, path: str) -> Response:
        """Send all bodies shown of an operation; the last answer."""
        url = path.format(**ids)
        for _, body in BODIES[path, method].values():
            headers = {}
            if method != "post":
                etag = keeper.get(url).headers.get("ETag")
                headers = {"If-Match": etag} if etag else {"If-None-Match": "*"}
            answer = keeper.request(method, url, json=body, headers=headers)
            assert answer.status_code in (200, 201), (path, body, answer.text)
        return answer

    send("post", "/v1/swings/analyze")
    ids["player_id"] = send("post", "/v1/players").json()["id"]
    send("patch", "/v1/players/{player_id}")
    ids["lesson_id"] = send("post", "/v1/players/{player_id}/lessons").json()["id"]
    send("patch", "/v1/lessons/{lesson_id}")
    lesson = f"/v1/lessons/{ids['lesson_id']}"
    send("post", "/v1/lessons/{lesson_id}/swings")
    swing = EXAMPLES["trail_heel_kick-face_on"].request()
    headers = {"Content-Type": "application/json"}
    kept = [
        keeper.post(f"{lesson}/swings?role={role}", content=swing, headers=headers).json()["swing"]
        for role in ("before", "after", "rehearsal")
    ]
    ids["swing_id"] = kept[0]["id"]
    send("patch", "/v1/swings/{swing_id}")
    send("put", "/v1/swings/{swing_id}/findings/{fault}/review")
    send("put", "/v1/lessons/{lesson_id}/recap/edits")


def test_the_lines_shown_are_taken_wherever_lines_are(keeper: TestClient) -> None:
    paths = keeper.get("/openapi.json").json()["paths"]
    player = keeper.post("/v1/players", json={"name": "Ada"}).headers["location"]
    lesson = keeper.post(f"{player}/lessons", json={"date": "2025-05-17"}).json()["id"]
    lines, kept = "application/x-ndjson", "/v1/lessons/{lesson_id}/swings/batch"
    taken = {
        path: operations["post"]["requestBody"]["content"][lines]
        for path, operations in paths.items()
        if lines in operations.get("post", {}).get("requestBody", {}).get("content", {})
    }
    assert taken.keys() >= {"/v1/batches", kept}
    for path, shown in taken.items():
        assert set(shown["examples"]) == set(LINES), path
        for _, text in LINES.values():
            url, headers = path.format(lesson_id=lesson), {"Content-Type": lines}
            answer = keeper.post(url, content=text, headers=headers)
            assert answer.status_code == (200 if path == kept else 202), answer.text
            if path == kept:
                told = [json.loads(line) for line in answer.text.splitlines()]
                assert [line["status"] for line in told] == [201, 201]


def test_bodies_that_need_something_of_ones_own_are_refused_for_that_alone(
    keeper: TestClient,
) -> None:
    def problem(path: str, name: str) -> Any:
        _, body = BODIES[path, "post"][name]
        return keeper.post(path, json=body).json()

    for shown in ("two_swings", "with_rehearsal"):
        assert problem("/v1/comparisons", shown)["detail"].startswith("There is no such swing: ")
    (error,) = problem("/v1/batches", "folder")["errors"]
    assert error["pointer"] == "/folder"
