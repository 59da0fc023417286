"""Batches sent and read."""

from __future__ import annotations

import gzip
import json
from functools import cache
from typing import Any

from fastapi.testclient import TestClient

from service.api.schemas.analysis import to_answer
from tests.records.kept import RULES, still_body, swing_body

NDJSON = {"Content-Type": "application/x-ndjson"}


def send(client: TestClient, *lines: bytes, packed: bool = False, **query: str) -> dict[str, Any]:
    """Send lines, and give what is answered."""
    body = b"\n".join(lines)
    headers = NDJSON | ({"Content-Encoding": "gzip"} if packed else {})
    content = gzip.compress(body) if packed else body
    answer = client.post("/v1/batches", content=content, headers=headers, params=query)
    assert answer.status_code == 202, answer.text
    assert answer.headers["location"] == f"/v1/batches/{answer.json()['id']}"
    told: dict[str, Any] = answer.json()
    return told


def state(client: TestClient, batch: dict[str, Any]) -> dict[str, Any]:
    answer = client.get(f"/v1/batches/{batch['id']}")
    assert answer.status_code == 200, answer.text
    told: dict[str, Any] = answer.json()
    return told


def results(client: TestClient, batch: dict[str, Any], **query: Any) -> list[dict[str, Any]]:
    answer = client.get(f"/v1/batches/{batch['id']}/results", params=query)
    assert answer.status_code == 200, answer.text
    assert answer.headers["content-type"] == "application/x-ndjson"
    return [json.loads(line) for line in answer.text.splitlines()]


@cache
def alone(body: bytes) -> Any:
    """What one request is answered with."""
    clip = RULES.analyse_body(body)
    return json.loads(to_answer(clip.analysis, clip.reference).model_dump_json())


def bodies(count: int, prefix: str = "swing") -> list[bytes]:
    """Short requests, each with a reference of its own."""
    return [still_body(reference=f"{prefix} {number}") for number in range(count)]


def two_swings() -> list[bytes]:
    return [swing_body(1, reference="first"), swing_body(2, reference="second")]
