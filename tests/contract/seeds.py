"""Records that are there before requests are drawn, so that what needs them finds some."""

from __future__ import annotations

from typing import Final

import httpx

from service.examples import EXAMPLES

CLIPS: Final = ("clean-face_on", "trail_heel_kick-face_on", "no_swing")
ENVIRONMENT: Final = "SWING_FUZZ_IDS"
JSON: Final = {"Content-Type": "application/json"}


def seed(server: str, key: str) -> dict[str, list[str]]:
    """Keep a player with a lesson of some swings; ids by the parameter that takes them."""
    bearer = {"Authorization": f"Bearer {key}"}
    with httpx.Client(base_url=server, timeout=60, headers=bearer) as client:
        player = client.post("/v1/players", json={"name": "Ines (invented)"}).json()["id"]
        day = {"date": "2025-05-17"}
        lesson = client.post(f"/v1/players/{player}/lessons", json=day).json()["id"]
        swings = [
            client.post(
                f"/v1/lessons/{lesson}/swings", content=EXAMPLES[clip].request(), headers=JSON
            ).json()["swing"]["id"]
            for clip in CLIPS
        ]
    return {"player_id": [player], "lesson_id": [lesson], "swing_id": swings}
