from __future__ import annotations

import gzip
import json
import zlib

import pytest
from fastapi.testclient import TestClient

from service.api.http.bodies.gzip_bodies import MOST_MEMBERS, gunzip
from service.api.problems.details import ProblemError
from service.intake.errors import TooLarge
from service.intake.request import read_request
from tests.api.clips import ANALYZE, BODY_LIMIT, clip

BODY = json.dumps(clip()).encode()
JSON = {"Content-Type": "application/json"}
GZIP = {**JSON, "Content-Encoding": "gzip"}


def _post(client: TestClient, body: bytes, headers: dict[str, str]) -> tuple[int, str]:
    answer = client.post(ANALYZE, content=body, headers=headers)
    return answer.status_code, answer.json().get("type", "")


def test_a_gzipped_body_is_answered_like_the_plain_one(client: TestClient) -> None:
    plain = client.post(ANALYZE, content=BODY, headers=JSON)
    packed = client.post(ANALYZE, content=gzip.compress(BODY), headers=GZIP)
    assert plain.status_code == 200
    assert packed.json() == plain.json()


def test_gzip_in_several_members_is_read_to_its_end(client: TestClient) -> None:
    body = gzip.compress(BODY[:100]) + gzip.compress(BODY[100:])
    assert _post(client, body, GZIP) == (200, "")


@pytest.mark.parametrize(
    "body", [BODY, gzip.compress(BODY)[:-9], gzip.compress(BODY) + b"rest", zlib.compress(BODY)]
)
def test_broken_gzip_is_a_problem(client: TestClient, body: bytes) -> None:
    assert _post(client, body, GZIP) == (400, "/problems/malformed-gzip")


def test_gzip_that_is_not_declared_is_told_as_that(client: TestClient) -> None:
    answer = client.post(ANALYZE, content=gzip.compress(BODY), headers=JSON)
    assert (answer.status_code, answer.json()["type"]) == (400, "/problems/malformed-json")
    assert "Content-Encoding: gzip is missing" in answer.json()["detail"]


def test_the_other_spelling_of_a_path_is_told(client: TestClient) -> None:
    answer = client.post("/v1/swings/analyse", json={})
    assert answer.status_code == 404
    assert answer.json()["detail"].endswith("Write /v1/swings/analyze.")


def test_a_slash_too_many_is_told_and_not_redirected(client: TestClient) -> None:
    answer = client.post(f"{ANALYZE}/", content=BODY, headers=JSON, follow_redirects=False)
    assert answer.status_code == 404
    assert answer.json()["detail"].endswith("Leave out the slash at the end.")


def test_a_position_by_its_name_in_a_path_is_told_its_number(client: TestClient) -> None:
    answer = client.get("/v1/swings/01890000-0000-7000-8000-000000000000/frames/P4.5.svg")
    assert answer.status_code == 404
    assert answer.json()["detail"].endswith("Write the position as a number: 4.5.svg.")


def test_a_body_over_the_limit_is_refused(client: TestClient) -> None:
    body = BODY + b" " * BODY_LIMIT
    assert _post(client, body, JSON) == (413, "/problems/body-too-large")


def test_a_body_of_exactly_the_limit_is_taken(client: TestClient) -> None:
    assert _post(client, BODY.ljust(BODY_LIMIT), JSON) == (200, "")
    assert _post(client, gzip.compress(BODY.ljust(BODY_LIMIT)), GZIP) == (200, "")


def test_a_body_that_unpacks_past_the_limit_is_refused(client: TestClient) -> None:
    bomb = gzip.compress(b" " * (BODY_LIMIT * 100))
    assert len(bomb) < BODY_LIMIT
    assert _post(client, bomb, GZIP) == (413, "/problems/body-too-large")


@pytest.mark.parametrize("media_type", ["text/plain", "application/x-www-form-urlencoded", ""])
def test_other_content_types_are_refused(client: TestClient, media_type: str) -> None:
    expected = (415, "/problems/unsupported-media-type")
    assert _post(client, BODY, {"Content-Type": media_type}) == expected


def test_a_charset_beside_the_content_type_is_fine(client: TestClient) -> None:
    assert _post(client, BODY, {"Content-Type": "Application/JSON; charset=utf-8"}) == (200, "")


@pytest.mark.parametrize("encoding", ["br", "deflate", "gzip, gzip"])
def test_other_encodings_are_refused_with_the_one_taken(client: TestClient, encoding: str) -> None:
    headers = {**JSON, "Content-Encoding": encoding}
    answer = client.post(ANALYZE, content=BODY, headers=headers)
    assert answer.status_code == 415
    assert answer.json()["type"] == "/problems/unsupported-encoding"
    assert answer.headers["accept-encoding"] == "gzip"


def test_a_crowd_of_gzip_members_is_refused_at_once(client: TestClient) -> None:
    crowd = gzip.compress(b"") * (BODY_LIMIT // 20)
    assert _post(client, crowd, GZIP) == (400, "/problems/malformed-gzip")


def test_as_many_members_as_are_taken_are_read() -> None:
    parts = [bytes([65 + n % 26]) for n in range(MOST_MEMBERS)]
    assert gunzip(b"".join(map(gzip.compress, parts)), 10_000) == b"".join(parts)


def test_a_little_that_unpacks_to_very_much_is_refused() -> None:
    packed = gzip.compress(b"[" + b"[]," * 1_000_000 + b"[]]")
    with pytest.raises(ProblemError, match="more than 100 times"):
        gunzip(packed, 16 * 1024 * 1024)


def test_more_lists_than_a_clip_has_are_refused_before_any_is_built() -> None:
    with pytest.raises(TooLarge):
        read_request(b'{"keypoints": [' + b"[]," * 1_000_001 + b"[]]}")
    with pytest.raises(TooLarge):
        read_request(b'{"keypoints": [' + b"1," * 4_000_001 + b"1]}")


@pytest.mark.parametrize(
    "path", ["/v1/players", "/v1/players/{id}/lessons", "/v1/comparisons"], ids=str
)
def test_requests_without_a_clip_have_a_limit_of_their_own(keeper: TestClient, path: str) -> None:
    body = b'{"note": "' + b"x" * 300_000 + b'"}'
    path = path.format(id="01890000-0000-7000-8000-000000000000")
    answer = keeper.post(path, content=body, headers=JSON)
    assert (answer.status_code, answer.json()["type"]) == (413, "/problems/body-too-large")
