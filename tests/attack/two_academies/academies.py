"""A service with keys and two academies, for those who try to get at the other's."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field
from typing import Any

import httpx
from fastapi.testclient import TestClient

from service.app import create_app
from service.records import Database, upgrade
from service.records.access import academies, keys
from service.records.access.keys import KeyScope
from service.settings import Settings
from tests.contract.committed import committed_contract
from tests.records.kept import DAY, still_body

JSON = {"Content-Type": "application/json"}
CONSENT = {"consent": {"given_on": str(DAY), "by": "guardian"}}


@dataclass(frozen=True)
class Told:
    """What an academy keeps: ids, and a word that stands in all that was written."""

    academy_id: str
    key: str
    word: str
    ids: dict[str, str] = field(default_factory=dict)

    @property
    def headers(self) -> dict[str, str]:
        return {"Authorization": f"Bearer {self.key}"}

    def secrets(self) -> list[str]:
        """What nobody else may be told."""
        return [self.word, *self.ids.values(), self.key]


def keyed_service(url: str, **settings: Any) -> TestClient:
    """A client of a service, with its tables; the caller enters and leaves it."""
    database = Database(url)
    upgrade(database)
    database.close()
    return TestClient(create_app(Settings(database_url=url, rate_limit=0, open=False, **settings)))


def make_key(client: TestClient, academy_id: str, scopes: Collection[KeyScope] = KeyScope) -> str:
    records: Database = client.app.state.records
    with records.writing() as session:
        return keys.add(session, academy_id, scopes)[1]


def make_academy(client: TestClient, name: str) -> Told:
    """An academy with a player, a lesson and a swing, under a word of its own."""
    records: Database = client.app.state.records
    with records.writing() as session:
        academy = academies.add(session, name)
    word = f"word-of-{name}"
    told = Told(academy.id, make_key(client, academy.id), word)
    headers = told.headers | {"Idempotency-Key": "the-same-for-everybody"}
    player = made(client.post("/v1/players", json={"name": word, **CONSENT}, headers=headers))
    lesson = made(
        client.post(
            f"/v1/players/{player}/lessons",
            json={"date": str(DAY), "coach_note": word},
            headers=headers | {"Idempotency-Key": "another"},
        )
    )
    swing = made(
        client.post(
            f"/v1/lessons/{lesson}/swings",
            content=still_body(reference=word),
            headers=told.headers | JSON,
        )
    )
    lines = {"Content-Type": "application/x-ndjson"}
    sent = client.post(
        "/v1/batches", content=still_body(reference=word), headers=told.headers | lines
    )
    assert sent.status_code == 202, sent.text
    batch = sent.json()["id"]
    told.ids.update(player=player, lesson=lesson, swing=swing, batch=batch)
    review = client.put(
        f"/v1/swings/{swing}/findings/long_backswing/review",
        json={"verdict": "confirm", "note": word, "reviewer": word},
        headers=told.headers | {"If-None-Match": "*"},
    )
    assert review.status_code in (200, 201), review.text
    return told


def made(answer: httpx.Response) -> str:
    """The id of what was made."""
    assert answer.status_code == 201, answer.text
    told = answer.json()
    return str(told.get("id") or told["swing"]["id"])


def guarded_operations() -> list[tuple[str, str, str]]:
    """Method, path and scope of every operation of the contract that takes a key."""
    paths = committed_contract()["paths"]
    return [
        (method.upper(), path, operation["security"][0]["bearer"][0])
        for path, operations in paths.items()
        for method, operation in operations.items()
        if "security" in operation
    ]
