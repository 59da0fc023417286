"""App factory: settings in, FastAPI out; nothing happens at import."""

from __future__ import annotations

import logging
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from anyio import to_thread
from fastapi import FastAPI
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException

import service
from service.api.docs.documentation import DESCRIPTION, TAGS, TITLE, DocumentedApp
from service.api.http.problems import ProblemError, answer_with_problem
from service.api.http.readiness import run_checks
from service.api.http.request_log import RequestLog
from service.api.routes import comparisons, kept_swings, lessons, players, recaps
from service.api.routes import service as routes
from service.intake.errors import InvalidRequest, MalformedJson
from service.lessons import NotComparable
from service.records import Database, RecordsError, RecordsUnavailable, upgrade
from service.settings import Settings
from service.use_cases.analyse import Analyser

_ROUTERS = (
    routes.swings,
    kept_swings.router,
    players.router,
    lessons.router,
    comparisons.router,
    recaps.router,
    routes.catalogue,
    routes.health,
    routes.problem_pages,
)
_TOLD_ERRORS = (
    InvalidRequest,
    MalformedJson,
    RequestValidationError,
    RecordsError,
    NotComparable,
    ProblemError,
    HTTPException,
)

_log = logging.getLogger(__name__)


def create_app(settings: Settings | None = None) -> FastAPI:
    """Build the service.

    Parameters
    ----------
    settings
        Read from the environment when ``None``.
    """
    app = DocumentedApp(
        title=TITLE,
        version=service.__version__,
        description=DESCRIPTION,
        openapi_tags=TAGS,
        lifespan=_lifespan,
    )
    app.state.settings = settings or Settings()
    app.state.analyser = Analyser.of(app.state.settings)
    app.state.checks = []
    app.state.records = _records(app.state.settings)
    for router in _ROUTERS:
        app.include_router(router)
    for error in _TOLD_ERRORS:
        app.add_exception_handler(error, answer_with_problem)
    app.add_middleware(RequestLog)
    return app


def _records(settings: Settings) -> Database | None:
    if not settings.database_url:
        return None
    return Database(settings.database_url, connections=settings.worker_threads)


@asynccontextmanager
async def _lifespan(app: FastAPI) -> AsyncIterator[None]:
    limiter = to_thread.current_default_thread_limiter()
    limiter.total_tokens = app.state.settings.worker_threads
    app.state.checks = await to_thread.run_sync(run_checks, app.state.analyser)
    records = app.state.records
    if records is not None and app.state.settings.migrate_on_start:
        await to_thread.run_sync(_migrate, records)
    yield
    if records is not None:
        records.close()


def _migrate(records: Database) -> None:
    """Go on where the database fails: swings are analysed without it all the same."""
    try:
        upgrade(records)
    except RecordsUnavailable as error:
        _log.error("the records were not brought up to date: %s", error)
