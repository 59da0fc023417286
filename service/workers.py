"""Workers of batches kept running beside a service, in processes of their own."""

from __future__ import annotations

import logging
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

from service.settings import Settings

_COMMAND: Final[tuple[str, ...]] = (sys.executable, "-m", "service", "work", "--beside")
_LOOKS: Final[float] = 1.0
_PAUSE: Final[float] = 5.0
"""Seconds after which a worker that ended is started again."""

_log = logging.getLogger(__name__)


@contextmanager
def workers_beside(settings: Settings) -> Iterator[None]:
    """Keep as many workers running as the settings say, and stop them at the end.

    Their standard input is held open by this process, so that they end with it even if it is
    killed.
    """
    count = settings.batch_workers if settings.database_url else 0
    ended = threading.Event()
    keepers = [threading.Thread(target=_keep_one, args=(settings, ended)) for _ in range(count)]
    for keeper in keepers:
        keeper.start()
    try:
        yield
    finally:
        ended.set()
        for keeper in keepers:
            keeper.join()


def _keep_one(settings: Settings, ended: threading.Event) -> None:
    while not ended.is_set():
        worker = subprocess.Popen(_COMMAND, stdin=subprocess.PIPE)
        while worker.poll() is None and not ended.wait(_LOOKS):
            pass
        if worker.poll() is None:
            _stop(worker, settings.shutdown_seconds)
        elif not ended.is_set():
            _log.error("a worker ended with status %d and is started again", worker.returncode)
            ended.wait(_PAUSE)
        if worker.stdin is not None:
            worker.stdin.close()


def _stop(worker: subprocess.Popen[bytes], seconds: int) -> None:
    worker.terminate()
    try:
        worker.wait(seconds)
    except subprocess.TimeoutExpired:
        worker.kill()
        worker.wait()
