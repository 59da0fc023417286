"""Writers that send again until they are acknowledged, and what became of what they wrote."""

from __future__ import annotations

import json
import random
import threading
import time
import uuid
from collections import Counter
from dataclasses import dataclass, field
from typing import Any, Final

import httpx

from tests.attack.fuzz.corpus import bodies

WRITERS: Final[int] = 16
GIVES_UP: Final[float] = 300.0
"""Seconds after which a writer that gets no acknowledgement has failed."""
_SWINGS: Final[float] = 0.15
"""Share of the writes that analyse a swing; the others are quick, so that there are many."""


@dataclass
class Written:
    """What the writers were told, each under a reference of its own."""

    acknowledged: dict[str, str] = field(default_factory=dict)
    wrong: list[str] = field(default_factory=list)
    tries: Counter[str] = field(default_factory=Counter)
    lock: threading.Lock = field(default_factory=threading.Lock)
    enough: threading.Event = field(default_factory=threading.Event)

    def __len__(self) -> int:
        return len(self.acknowledged)


def new_lesson(address: str) -> str:
    """A lesson of an invented player."""
    with httpx.Client(base_url=address, timeout=60) as client:
        player = client.post("/v1/players", json={"name": "Ida Invented"}).json()["id"]
        made = client.post(f"/v1/players/{player}/lessons", json={"date": "2025-05-17"})
        lesson: str = made.json()["id"]
        return lesson


def keep_writing(address: str, lesson: str, written: Written, seed: float) -> None:
    """Keep players and swings until there are enough."""
    rng, swing = random.Random(seed), json.loads(bodies()["plain_timed"])
    client = httpx.Client(base_url=address, timeout=30)
    while not written.enough.is_set():
        reference = str(uuid.UUID(int=rng.getrandbits(128), version=4))
        if rng.random() < _SWINGS:
            path, sent = f"/v1/lessons/{lesson}/swings", {**swing, "client_reference": reference}
        else:
            path, sent = "/v1/players", {"name": reference}
        made = _acknowledged(client, path, sent, reference, written)
        if made is not None:
            with written.lock:
                written.acknowledged[reference] = made
    client.close()


def _acknowledged(
    client: httpx.Client, path: str, sent: dict[str, Any], reference: str, written: Written
) -> str | None:
    """Send until it is acknowledged; the id of what was made."""
    headers = {"Idempotency-Key": reference, "Content-Type": "application/json"}
    body, end = json.dumps(sent).encode(), time.monotonic() + GIVES_UP
    while time.monotonic() < end:
        try:
            answer = client.post(path, content=body, headers=headers)
        except httpx.TransportError as error:
            written.tries[type(error).__name__] += 1
        else:
            written.tries[str(answer.status_code)] += 1
            if answer.status_code == 201:
                made = answer.json()
                told: str = made.get("swing", made)["id"]
                return told
            if answer.status_code != 503:
                written.wrong.append(f"{answer.status_code} {answer.text[:200]}")
                return None
        time.sleep(0.1)
    written.wrong.append(f"no acknowledgement within {GIVES_UP:g} s")
    return None


def there(address: str) -> list[tuple[str, str]]:
    """Reference and id of everything that is kept."""
    found = []
    with httpx.Client(base_url=address, timeout=60) as client:
        for path, name in (("/v1/players", "name"), ("/v1/swings", "client_reference")):
            cursor: dict[str, str] = {}
            while True:
                page = client.get(path, params={"limit": "100", **cursor}).raise_for_status().json()
                found += [(each[name], each["id"]) for each in page["items"]]
                if page["next_cursor"] is None:
                    break
                cursor = {"cursor": page["next_cursor"]}
    return found


def judged(written: Written, found: list[tuple[str, str]]) -> int:
    """Print what became of all that was acknowledged; 1 when it is not as it should be."""
    times = Counter(reference for reference, _ in found)
    kept = set(found)
    lost = [pair for pair in written.acknowledged.items() if pair not in kept]
    twice = [reference for reference, n in times.items() if n > 1]
    print(f"{len(written)} acknowledged, {len(found) - 1} kept, answers {dict(written.tries)}")
    print(f"lost {len(lost)}, twice {len(twice)}, wrong answers {len(written.wrong)}")
    for each in (*lost[:5], *twice[:5], *written.wrong[:5]):
        print(" ", each)
    return int(bool(lost or twice or written.wrong))
