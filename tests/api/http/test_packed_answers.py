"""What goes out as gzip, and what does not."""

from __future__ import annotations

import pytest
from fastapi.testclient import TestClient

from service.examples import EXAMPLES

LARGE = ("/openapi.json", "/docs/swagger-ui-bundle.js", "/docs/swagger-ui.css")


def asked(client: TestClient, path: str, accepted: str, method: str = "GET") -> dict[str, str]:
    answer = client.request(method, path, headers={"Accept-Encoding": accepted})
    assert answer.status_code == 200
    return dict(answer.headers)


@pytest.mark.parametrize("path", LARGE)
def test_what_is_large_and_the_same_for_everybody_is_packed_for_who_takes_it(
    client: TestClient, path: str
) -> None:
    plain = asked(client, path, "identity")
    assert "content-encoding" not in plain
    packed = asked(client, path, "br, gzip")
    assert packed["content-encoding"] == "gzip"
    assert int(packed["content-length"]) < int(plain["content-length"]) / 3
    assert packed["content-type"] == plain["content-type"]
    assert packed["vary"] == plain["vary"] == "Accept-Encoding"
    assert asked(client, path, "gzip", "HEAD")["content-length"] == packed["content-length"]
    whole, sent = (
        client.get(path, headers={"Accept-Encoding": each}).content for each in ("identity", "gzip")
    )
    assert whole == sent


def test_swings_small_files_and_refusals_go_as_they_are(client: TestClient) -> None:
    head = {"Accept-Encoding": "gzip", "Content-Type": "application/json"}
    body = next(iter(EXAMPLES.values())).request()
    swing = client.post("/v1/swings/analyze", content=body, headers=head)
    assert swing.status_code == 200
    for answer in (
        swing,
        client.get("/docs/start.js", headers=head),
        client.get("/docs/nothing", headers=head),
        client.get("/v1/faults", headers=head),
    ):
        assert "content-encoding" not in answer.headers
