"""App factory: settings in, FastAPI out; nothing happens at import."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from anyio import to_thread
from fastapi import FastAPI
from starlette.exceptions import HTTPException

import service
from service.api import routes
from service.api.documentation import DESCRIPTION, TAGS, TITLE, DocumentedApp
from service.api.observability import RequestLog
from service.api.problems import ProblemError, answer_with_problem
from service.api.readiness import run_checks
from service.application.errors import InvalidRequest, MalformedJson
from service.settings import Settings


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
    app.state.checks = []
    for router in (routes.swings, routes.catalogue, routes.health, routes.problem_pages):
        app.include_router(router)
    for error in (InvalidRequest, MalformedJson, ProblemError, HTTPException):
        app.add_exception_handler(error, answer_with_problem)
    app.add_middleware(RequestLog)
    return app


@asynccontextmanager
async def _lifespan(app: FastAPI) -> AsyncIterator[None]:
    limiter = to_thread.current_default_thread_limiter()
    limiter.total_tokens = app.state.settings.worker_threads
    app.state.checks = await to_thread.run_sync(run_checks)
    yield
