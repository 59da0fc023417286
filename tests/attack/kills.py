"""Server, proxy and PostgreSQL killed at random moments under writers that try again.

``python -m tests.attack.kills [TIMES [SEED]]``: each is killed TIMES times (20) with SIGKILL while
16 writers keep players and swings through the proxy. A writer sends a request again, under the same
Idempotency-Key, until it is acknowledged. At the end everything acknowledged must be there under
the id that was given, and nothing may be there twice. Without PostgreSQL's programs the records
are SQLite's and only server and proxy are killed.
"""

from __future__ import annotations

import json
import random
import sys
import tempfile
import threading
import time
import uuid
from collections import Counter
from dataclasses import dataclass, field
from typing import Any, Final

import httpx

from tests.attack.corpus import bodies
from tests.attack.killable import Killable, Postgres, Proxy, Server, postgres_programs

WRITERS: Final[int] = 16
TIMES: Final[int] = 20
_SWINGS: Final[float] = 0.15
"""Share of the writes that analyse a swing; the others are quick, so that there are many."""
_BETWEEN: Final[int] = 2 * WRITERS
"""Acknowledged writes between a start and the next kill."""
_GIVES_UP: Final[float] = 300.0
"""Seconds after which a writer that gets no acknowledgement has failed."""


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


def main() -> int:
    """Print what became of all; 1 when something was lost, doubled or answered wrongly."""
    times = int(sys.argv[1]) if len(sys.argv) > 1 else TIMES
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    programs = postgres_programs()
    if programs is None:
        print("PostgreSQL is not installed: SQLite, and only server and proxy are killed")
        with tempfile.TemporaryDirectory() as folder:
            return _attack(f"sqlite:///{folder}/records.db", [], times, random.Random(seed))
    postgres = Postgres(programs)
    try:
        postgres.start()
        return _attack(postgres.url, [postgres], times, random.Random(seed))
    finally:
        postgres.remove()


def _attack(url: str, database: list[Killable], times: int, rng: random.Random) -> int:
    server = Server(url)
    proxy = Proxy(server.port)
    killed = [server, proxy, *database]
    try:
        server.start()
        proxy.start()
        written = _under_kills(proxy.address, killed, times, rng)
        found = there(server.address)
    finally:
        proxy.kill()
        server.kill()
    return judged(written, found)


def _under_kills(address: str, killed: list[Killable], times: int, rng: random.Random) -> Written:
    written, lesson = Written(), new_lesson(address)
    writers = [
        threading.Thread(target=keep_writing, args=(address, lesson, written, rng.random()))
        for _ in range(WRITERS)
    ]
    for each in writers:
        each.start()
    moments = [each for each in killed for _ in range(times)]
    rng.shuffle(moments)
    try:
        for victim in moments:
            before, end = len(written), time.monotonic() + _GIVES_UP
            while len(written) < before + _BETWEEN and time.monotonic() < end:
                time.sleep(0.02)
            time.sleep(rng.uniform(0.0, 1.0))
            victim.kill()
            print(f"killed {victim.name} after {len(written)} acknowledged", flush=True)
            time.sleep(rng.uniform(0.0, 0.5))
            victim.start()
    finally:
        written.enough.set()
        for each in writers:
            each.join()
    return written


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
    body, end = json.dumps(sent).encode(), time.monotonic() + _GIVES_UP
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
    written.wrong.append(f"no acknowledgement within {_GIVES_UP:g} s")
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


if __name__ == "__main__":
    sys.exit(main())
