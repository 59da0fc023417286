"""A lesson for a coach to look at."""

from __future__ import annotations

import pytest
from fastapi.testclient import TestClient

from tests.api.routes.test_comparisons import JSON, drifting_body


@pytest.fixture
def lesson(keeper: TestClient) -> str:
    """Path of a lesson with one swing that drifts off the ball."""
    player = keeper.post("/v1/players", json={"name": "Ada"}).headers["location"]
    made = keeper.post(
        f"{player}/lessons", json={"date": "2025-05-17", "coach_note": "Turn, don't sway."}
    )
    path = str(made.headers["location"])
    answer = keeper.post(f"{path}/swings", content=drifting_body(1.3, 1), headers=JSON)
    assert answer.status_code == 201, answer.text
    return path


@pytest.fixture
def swing(keeper: TestClient, lesson: str) -> str:
    """Path of the swing."""
    (found,) = keeper.get(f"{lesson}/recap").json()["swings"]
    return f"/v1/swings/{found['id']}"
