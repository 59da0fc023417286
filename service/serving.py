"""Serving over HTTP: one process, or several that share the port."""

from __future__ import annotations

import logging
import os
import signal
import sys
from typing import Final

import uvicorn
from fastapi import FastAPI
from sqlalchemy import make_url

import service
from service.api.health.probes import describe
from service.api.http.request_log import log_to_stderr
from service.api.load.connections import BoundedProtocol
from service.app import create_app, prepare_records
from service.observing.traces import send_traces
from service.settings import Settings, amiss
from service.use_cases.analyse import Analyser
from service.workers import workers_beside

_WORKER: Final[str] = "service.serving:worker"

_DEAD_AFTER: Final[int] = 30
"""Seconds without a sign of life after which a process is replaced; a busy machine may well keep
one from giving any for some."""

_log = logging.getLogger(__name__)


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
    TracesUnavailable
        When traces are asked for and the packages for them are missing.
    """
    log_to_stderr(settings.log_level, settings.log_format)
    app = create_app(settings)
    prepare_records(app)  # once, before any worker starts
    app.state.guard.door.check()
    os.environ["SWING_HOST"] = settings.host  # workers inherit it, and who is let in hangs on it
    if settings.workers > 1 and app.state.records is not None:
        app.state.records.close()  # whoever only watches over workers needs no connection
    send_traces(settings.traces_endpoint)
    for wrong in amiss(settings, os.environ):
        _log.warning("%s", wrong)
    told = announcement(settings, app.state.analyser)
    _log.info("starting: %s", "; ".join(told.values()), extra={"fields": told})
    # The server raises the signal again once it has finished: what stands around it ends too then.
    signal.signal(signal.SIGTERM, lambda *_: sys.exit())
    with workers_beside(settings):
        uvicorn.run(
            app if settings.workers == 1 else _WORKER,
            factory=settings.workers > 1,
            workers=settings.workers,
            host=settings.host,
            port=settings.port,
            http=BoundedProtocol,
            ws="none",  # another protocol would come without the bounds of this one
            forwarded_allow_ips=settings.trusted_proxies,
            loop="service.api.load.listening:ListeningLoop",
            timeout_graceful_shutdown=settings.shutdown_seconds,
            timeout_worker_healthcheck=_DEAD_AFTER,
            log_config=None,
            access_log=False,
        )


def worker() -> FastAPI:
    """The service as one of several processes builds it, from the same environment."""
    settings = Settings()
    log_to_stderr(settings.log_level, settings.log_format)
    send_traces(settings.traces_endpoint)
    return create_app(settings.model_copy(update={"migrate_on_start": False}))


def announcement(settings: Settings, analyser: Analyser) -> dict[str, str]:
    """What is about to serve: version, address, processes, model, database, what is told of it."""
    many = "1 process" if settings.workers == 1 else f"{settings.workers} processes"
    return {
        "version": f"swing-fault-service {service.__version__}",
        "address": f"address: {settings.host}:{settings.port}",
        "processes": f"{many}, clips analysed at once in each: {settings.analysis_threads}, "
        f"requests taken in by each: {settings.max_requests} a lane",
        "model": f"model: {describe(analyser)}",
        "database": f"database: {_database(settings.database_url)}",
        "metrics": f"metrics: {'at /metrics' if settings.metrics else 'off'}",
        "traces": f"traces: {'sent' if settings.traces_endpoint else 'off'}",
    }


def _database(url: str) -> str:
    """Where records are kept, without user and password."""
    if not url:
        return "none; swings are analysed and nothing is kept"
    parsed = make_url(url)
    if parsed.get_backend_name() == "sqlite":
        return f"SQLite, {parsed.database}"
    return f"PostgreSQL, {parsed.database} at {parsed.host}"
