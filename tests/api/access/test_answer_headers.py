"""What every answer tells a browser, and under which names the service may be called."""

from __future__ import annotations

import pytest
from fastapi.testclient import TestClient

from service.api.access.hosts import allowed_names
from service.app import create_app
from service.settings import Settings


def test_every_answer_is_taken_for_what_it_says_and_tells_no_other_site(keeper: TestClient) -> None:
    player = keeper.post("/v1/players", json={"name": "Ada"}).headers["location"]
    for path in ("/", "/docs", "/healthz", "/v1/faults", "/v1/players", player, "/nowhere"):
        headers = keeper.get(path).headers
        assert headers["x-content-type-options"] == "nosniff", path
        assert headers["referrer-policy"] == "no-referrer", path
        assert "frame-ancestors 'none'" in headers["content-security-policy"], path


def test_nothing_about_a_player_is_kept_by_a_browser_or_proxy(keeper: TestClient) -> None:
    player = keeper.post("/v1/players", json={"name": "Ada"})
    path = player.headers["location"]
    lesson = keeper.post(f"{path}/lessons", json={"date": "2025-05-17"}).headers["location"]
    for answer in (player, *map(keeper.get, (path, f"{path}/export", f"{lesson}/recap.html"))):
        assert answer.headers["cache-control"] == "no-store"
    assert "cache-control" not in keeper.get("/v1/faults").headers


def test_the_recaps_page_runs_no_script_and_loads_nothing(keeper: TestClient) -> None:
    player = keeper.post("/v1/players", json={"name": "Ada"}).headers["location"]
    lesson = keeper.post(f"{player}/lessons", json={"date": "2025-05-17"}).headers["location"]
    page = keeper.get(f"{lesson}/recap.html")
    policy = page.headers["content-security-policy"].split("; ")
    assert "default-src 'none'" in policy
    assert not any(part.startswith(("script-src", "connect-src")) for part in policy)
    assert "<script" not in page.text


@pytest.mark.parametrize(
    ("allowed", "host", "status"),
    [
        ("swing.example", "swing.example", 200),
        ("swing.example", "SWING.example:8443", 200),
        ("a.example, swing.example", "swing.example", 200),
        ("*.swing.example", "north.swing.example", 200),
        ("*.swing.example", "swing.example", 421),
        ("swing.example", "swing.example.evil.example", 421),
        ("swing.example", "evil.example", 421),
        ("swing.example", "", 421),
    ],
)
def test_only_names_that_are_allowed_are_answered(allowed: str, host: str, status: int) -> None:
    client = TestClient(create_app(Settings(allowed_hosts=allowed)))
    answer = client.get("/v1/faults", headers={"Host": host})
    assert answer.status_code == status
    if status == 421:
        assert answer.json()["type"] == "/problems/unknown-host"
        assert answer.headers["x-request-id"]
    assert client.get("/healthz", headers={"Host": host}).status_code == 200


def test_on_a_loopback_address_only_its_own_names_are_allowed_unless_told_otherwise() -> None:
    own = allowed_names(Settings(allowed_hosts=""))
    assert {"localhost", "127.0.0.1", "::1"} == set(own)
    assert allowed_names(Settings(allowed_hosts="", host="0.0.0.0")) == ()
    client = TestClient(create_app(Settings(allowed_hosts="")))
    for host, status in (("localhost:8000", 200), ("[::1]:8000", 200), ("evil.example", 421)):
        assert client.get("/v1/faults", headers={"Host": host}).status_code == status
