from __future__ import annotations

import gzip
import json
from concurrent.futures import ThreadPoolExecutor

import httpx

from tests.api.clips import ANALYZE, BODY_LIMIT, clip

JSON = {"Content-Type": "application/json"}
GZIP = {**JSON, "Content-Encoding": "gzip"}


def _post(server: str, body: bytes, headers: dict[str, str]) -> httpx.Response:
    return httpx.post(server + ANALYZE, content=body, headers=headers, timeout=30)


def test_a_gzipped_clip_is_analysed_over_a_real_connection(server: str) -> None:
    body = gzip.compress(json.dumps(clip(client_reference="über")).encode())
    answer = _post(server, body, GZIP)
    assert answer.status_code == 200
    assert answer.json()["client_reference"] == "über"


def test_the_answer_to_an_oversized_body_arrives(server: str) -> None:
    answer = _post(server, b" " * (3 * BODY_LIMIT), JSON)
    assert (answer.status_code, answer.json()["status"]) == (413, 413)


def test_a_bomb_is_refused_over_a_real_connection(server: str) -> None:
    answer = _post(server, gzip.compress(b"[" * (BODY_LIMIT * 100)), GZIP)
    assert answer.status_code == 413


def test_bad_json_is_a_problem_over_a_real_connection(server: str) -> None:
    answer = _post(server, b'{"keypoints": [', JSON)
    assert answer.headers["content-type"] == "application/problem+json"
    assert answer.status_code == 400


def test_answers_to_requests_at_once_are_not_mixed_up(server: str) -> None:
    def reference(number: int) -> str:
        body = json.dumps(clip(client_reference=f"swing {number}")).encode()
        return str(_post(server, body, JSON).json()["client_reference"])

    with ThreadPoolExecutor(8) as pool:
        answers = list(pool.map(reference, range(24)))
    assert answers == [f"swing {number}" for number in range(24)]
