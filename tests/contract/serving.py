"""A real server with records of its own."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import httpx

from tests.coming_up import served
from tests.waiting import until


@contextmanager
def serving_with_key(folder: Path) -> Iterator[tuple[str, str]]:
    """Address of a service that asks for a key, as often as one likes, and a key that may all."""
    for words in (["migrate"], ["keys", "create", "--scopes", "all"]):
        command = [sys.executable, "-m", "service", *words]
        done = subprocess.run(
            command,
            env={**os.environ, **_records_in(folder)},
            capture_output=True,
            text=True,
            check=True,
        )
    key = done.stdout.strip()
    with serving(folder, SWING_RATE_LIMIT="0", SWING_REQUIRE_CONSENT="false") as address:
        _wait_for_key(address, key)
        yield address, key


def _wait_for_key(address: str, key: str) -> None:
    """Return once the key was found: on a busy machine the first search for it may be given up."""
    with httpx.Client(headers={"Authorization": f"Bearer {key}"}, timeout=60) as client:
        until(lambda: client.get(f"{address}/v1/players").status_code != 503)


@contextmanager
def serving(folder: Path, **settings: str) -> Iterator[str]:
    """Address of a service that keeps its records in a folder."""
    with (folder / "log").open("wb") as log, served(_records_in(folder) | settings, log) as up:
        yield up.address


def _records_in(folder: Path) -> dict[str, str]:
    return {"SWING_DATABASE_URL": f"sqlite:///{folder / 'records.db'}"}
