"""What it costs to ask who it is, and how often: ``python -m tests.bench.access_time``.

The parts by themselves, and a whole request for a player with and without them, in one process and
on one core; with SQLite, and with PostgreSQL where ``SWING_TEST_POSTGRES_URL`` names a server that
may be written to.
"""

from __future__ import annotations

import asyncio
import os
import statistics
import time
import uuid
from collections.abc import Awaitable, Callable
from tempfile import TemporaryDirectory

import httpx
from sqlalchemy import create_engine, make_url, text

from service.api.access.door import Bearer, Door
from service.api.access.limits import Limits
from service.app import create_app
from service.records import Database, upgrade
from service.records.access import keys
from service.records.access.keys import KeyScope
from service.records.default_academy import DEFAULT_ACADEMY
from service.records.keeping import players
from service.settings import Settings

RUNS = 1000
MANY = 1_000_000


def main() -> None:
    """Print medians, what the quickest tenth took, and the processor's time of this process, which
    other work on the machine hardly changes."""
    os.sched_setaffinity(0, {0})
    os.environ["SWING_ALLOWED_HOSTS"] = "bench"
    with TemporaryDirectory() as folder:
        asyncio.run(_measure("SQLite", f"sqlite:///{folder}/bench.db"))
    server = os.environ.get("SWING_TEST_POSTGRES_URL")
    if server is None:
        print("PostgreSQL: not measured, SWING_TEST_POSTGRES_URL is not set")
        return
    name = f"bench_{uuid.uuid4().hex}"
    engine = create_engine(server, isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        connection.execute(text(f"CREATE DATABASE {name}"))
        url = make_url(server).set(database=name).render_as_string(hide_password=False)
        asyncio.run(_measure("PostgreSQL", url))
        connection.execute(text(f"DROP DATABASE {name} WITH (FORCE)"))
    engine.dispose()


async def _measure(name: str, url: str) -> None:
    database = Database(url)
    upgrade(database)
    with database.writing() as session:
        player = players.add(session, "Ada Fairway").id
        _, key = keys.add(session, DEFAULT_ACADEMY, set(KeyScope))
    settings = Settings(database_url=url, open=False, rate_limit=MANY)
    door, limits = Door(settings, database), Limits(settings)
    bearer = Bearer(DEFAULT_ACADEMY, "bench")
    print(name)
    await _tell("  key checked", lambda: door.admit(f"Bearer {key}", KeyScope.READ))
    await _tell("  request counted", lambda: limits.take(bearer, "bench"))
    shut = settings.model_copy(update={"rate_limit": 0})
    opened = settings.model_copy(update={"open": True})
    asked = {}
    for words, each in (("open", opened), ("key", shut), ("key and limit", settings)):
        transport = httpx.ASGITransport(create_app(each))
        headers = {"Authorization": f"Bearer {key}"}
        client = httpx.AsyncClient(transport=transport, base_url="http://bench", headers=headers)
        asked[words] = client
    spent: dict[str, list[tuple[float, float]]] = {words: [] for words in asked}
    for _ in range(RUNS):  # in turns, so that whatever else the machine does hits all alike
        for words, client in asked.items():
            begin = _now()
            answer = await client.get(f"/v1/players/{player}")
            spent[words].append(_since(begin))
            assert answer.status_code == 200, answer.text
    for words, times in spent.items():
        _print(f"  GET of a player, {words}", times)
    database.close()


async def _tell(words: str, do: Callable[[], Awaitable[object]]) -> None:
    times = []
    for _ in range(RUNS):
        begin = _now()
        await do()
        times.append(_since(begin))
    _print(words, times)


def _now() -> tuple[float, float]:
    """Seconds on the clock and of the processor."""
    return time.perf_counter(), time.process_time()


def _since(begin: tuple[float, float]) -> tuple[float, float]:
    clock, processor = _now()
    return clock - begin[0], processor - begin[1]


def _print(words: str, times: list[tuple[float, float]]) -> None:
    clock = [1e6 * each for each, _ in times]
    processor = 1e6 * statistics.fmean(each for _, each in times)
    quick = statistics.quantiles(clock, n=10)[0]
    print(
        f"{words}: median {statistics.median(clock):.0f} us, quickest tenth {quick:.0f} us, "
        f"processor {processor:.0f} us"
    )


if __name__ == "__main__":
    main()
