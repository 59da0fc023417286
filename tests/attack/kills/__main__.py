"""Server, proxy and PostgreSQL killed at random moments under writers that try again.

``python -m tests.attack.kills [TIMES [SEED]]``: each is killed TIMES times (20) with SIGKILL while
16 writers keep players and swings through the proxy. A writer sends a request again, under the same
Idempotency-Key, until it is acknowledged. At the end everything acknowledged must be there under
the id that was given, and nothing may be there twice. Without PostgreSQL's programs the records
are SQLite's and only server and proxy are killed.
"""

from __future__ import annotations

import random
import sys
import tempfile
import threading
import time
from typing import Final

from tests.attack.kills.killable import Killable, Proxy, Server, postgres_programs, running_postgres
from tests.attack.kills.writers import (
    GIVES_UP,
    WRITERS,
    Written,
    judged,
    keep_writing,
    new_lesson,
    there,
)

TIMES: Final[int] = 20
_BETWEEN: Final[int] = 2 * WRITERS
"""Acknowledged writes between a start and the next kill."""


def main() -> int:
    """Print what became of all; 1 when something was lost, doubled or answered wrongly."""
    times = int(sys.argv[1]) if len(sys.argv) > 1 else TIMES
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    programs = postgres_programs()
    if programs is None:
        print("PostgreSQL is not installed: SQLite, and only server and proxy are killed")
        with tempfile.TemporaryDirectory() as folder:
            return _attack(f"sqlite:///{folder}/records.db", [], times, random.Random(seed))
    with running_postgres(programs) as postgres:
        return _attack(postgres.url, [postgres], times, random.Random(seed))


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
            before, end = len(written), time.monotonic() + GIVES_UP
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


if __name__ == "__main__":
    sys.exit(main())
