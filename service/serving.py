"""Serving over HTTP: one process, or several that share the port."""

from __future__ import annotations

import os
from typing import Final

import uvicorn
from fastapi import FastAPI

from service.api.http.request_log import log_as_json_lines
from service.api.load.connections import BACKLOG, BoundedProtocol
from service.app import create_app, prepare_records
from service.settings import Settings
from service.workers import workers_beside

_WORKER: Final[str] = "service.serving:worker"

_DEAD_AFTER: Final[int] = 30
"""Seconds without a sign of life after which a process is replaced; a busy machine may well keep
one from giving any for some."""


def serve(settings: Settings) -> None:
    """Serve until told to stop; then no more is taken in, and what was is finished in bounded
    time.

    Raises
    ------
    ManifestError
        When the models can't be believed.
    RecordsError
        When the database is none of this version's.
    NobodyCouldEnter
        When strangers reach the service and nobody has a key.
    """
    log_as_json_lines(settings.log_level)
    app = create_app(settings)
    prepare_records(app)  # once, before any worker starts
    app.state.guard.door.check()
    os.environ["SWING_HOST"] = settings.host  # workers inherit it, and who is let in hangs on it
    if settings.workers > 1 and app.state.records is not None:
        app.state.records.close()  # whoever only watches over workers needs no connection
    with workers_beside(settings):
        uvicorn.run(
            app if settings.workers == 1 else _WORKER,
            factory=settings.workers > 1,
            workers=settings.workers,
            host=settings.host,
            port=settings.port,
            http=BoundedProtocol,
            backlog=BACKLOG,
            timeout_graceful_shutdown=settings.shutdown_seconds,
            timeout_worker_healthcheck=_DEAD_AFTER,
            log_config=None,
            access_log=False,
        )


def worker() -> FastAPI:
    """The service as one of several processes builds it, from the same environment."""
    settings = Settings()
    log_as_json_lines(settings.log_level)
    return create_app(settings.model_copy(update={"migrate_on_start": False}))
