from __future__ import annotations

import gzip
import json
import zlib

import pytest
from fastapi.testclient import TestClient

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
