"""App factory: settings in, FastAPI out; nothing happens at import."""

from __future__ import annotations

import logging
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from typing import Final

from anyio import to_thread
from fastapi import Depends, FastAPI, Request
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException

import service
from service.api.access.door import Door
from service.api.access.guard import Guard, admit
from service.api.access.headers import AnswerHeaders
from service.api.access.hosts import AllowedHosts, allowed_names
from service.api.access.limits import Limits
from service.api.batches.stream import Followers
from service.api.docs import browsing
from service.api.docs.documentation import DESCRIPTION, TAGS, TITLE, DocumentedApp
from service.api.docs.examples import ANALYZE_PATH
from service.api.health.probes import probes
from service.api.health.readiness import Readiness
from service.api.http.bodies.heads import Heads
from service.api.http.bodies.packed_answers import PackedAnswers
from service.api.http.browsers import let_pages_call
from service.api.http.conditional import NotModified
from service.api.http.dependencies import refuse_unknown_parameters
from service.api.http.request_log import RequestLog
from service.api.load.admission import Admission
from service.api.load.turns import Turns
from service.api.problems.answers import answer_with_problem
from service.api.problems.details import ProblemError
from service.api.routes import analyses, batches, catalogue, comparisons, examples
from service.api.routes.coach import agreement, recap_approvals, recap_edits, reviews
from service.api.routes.kept import audit, lessons, players, recaps, summary, swings
from service.api.routes.running import health, metrics, problem_pages, root
from service.intake.errors import InvalidRequest, MalformedJson, TooLarge
from service.lessons import NotComparable
from service.observing.metrics import Metrics
from service.observing.traces import Traced, stop_traces
from service.records import Database, RecordsError, RecordsUnavailable, upgrade
from service.report.branding import Branding, branding_of
from service.settings import Settings
from service.use_cases.analyse import Analyser

_ROUTERS = (
    analyses.router,
    swings.router,
    players.router,
    lessons.router,
    comparisons.router,
    recaps.router,
    summary.router,
    audit.router,
    batches.router,
    reviews.router,
    recap_edits.router,
    recap_approvals.router,
    agreement.router,
    catalogue.router,
    examples.router,
    health.router,
    problem_pages.router,
    browsing.router,
    root.router,
)
_TOLD_ERRORS = (
    InvalidRequest,
    MalformedJson,
    TooLarge,
    RequestValidationError,
    RecordsError,
    NotComparable,
    ProblemError,
    HTTPException,
)

_UNTOLD: Final[dict[str, bool]] = {
    "tracing": False,
    "metrics": False,
    "logs": False,
    "operation_spans": False,
    "auto_configure": False,
}
"""The framework's own telemetry, which would tell paths, and with them ids of players, to whatever
OpenTelemetry is set up in the process. Ours is in :mod:`service.observing.traces`."""

_CONNECTIONS: Final[int] = 10
"""Most connections to the database that one process holds."""

_FOLLOWERS_SHARE: Final[int] = 4
"""Of the requests taken in at once one in so many may follow the results of a batch."""

_log = logging.getLogger(__name__)


def create_app(settings: Settings | None = None) -> FastAPI:
    """Build the service.

    Parameters
    ----------
    settings
        Read from the environment when ``None``.

    Raises
    ------
    ValueError
        When the academy's logo can't be used.
    """
    app = DocumentedApp(
        title=TITLE,
        version=service.__version__,
        description=DESCRIPTION,
        openapi_tags=TAGS,
        lifespan=_lifespan,
        dependencies=[Depends(_let_in)],
        telemetry=_UNTOLD,
        docs_url=None,  # FastAPI's pages fetch their scripts from elsewhere
        redoc_url=None,
        redirect_slashes=False,  # many a client takes a redirect of a POST for an empty answer
    )
    app.state.settings = settings or Settings()
    app.state.records = _records(app.state.settings)
    app.state.branding = _branding(app.state.settings)
    analyser = Analyser.of(app.state.settings)
    app.state.metrics = Metrics(analyser.classifier)
    app.state.analyser = analyser.watched_by(app.state.metrics)
    app.state.guard = _guard(app.state.settings, app.state.records)
    app.state.readiness = Readiness(probes(app.state.settings, analyser))  # its swings don't count
    app.state.turns = Turns(app.state.settings.analysis_threads)
    app.state.followers = Followers(max(1, app.state.settings.max_requests // _FOLLOWERS_SHARE))
    for router in _ROUTERS:
        app.include_router(router)
    if app.state.settings.metrics:
        app.include_router(metrics.router)
    for error in _TOLD_ERRORS:
        app.add_exception_handler(error, answer_with_problem)
    _add_layers(app, app.state.settings)
    return app


def _add_layers(app: FastAPI, settings: Settings) -> None:
    """What a request passes on its way to a route; it meets the last one added first."""
    app.add_middleware(PackedAnswers)
    app.add_middleware(Heads)
    app.add_middleware(NotModified)
    app.add_middleware(
        Admission,
        own_lane=ANALYZE_PATH,
        most=settings.max_requests,
        metrics=app.state.metrics,
    )
    app.add_middleware(AllowedHosts, names=allowed_names(settings))
    app.add_middleware(RequestLog, metrics=app.state.metrics)
    app.add_middleware(AnswerHeaders)
    let_pages_call(app, settings)
    app.add_middleware(Traced)


async def _let_in(request: Request) -> None:
    """What every route asks first, as one dependency: each costs a twentieth of a bare request."""
    await admit(request)
    await refuse_unknown_parameters(request)


def _branding(settings: Settings) -> Branding:
    return branding_of(settings.academy_name, settings.academy_colour, settings.academy_logo)


def _guard(settings: Settings, records: Database | None) -> Guard:
    return Guard(settings, Door(settings, records), Limits(settings))


def _records(settings: Settings) -> Database | None:
    if not settings.database_url:
        return None
    return Database(settings.database_url, connections=_CONNECTIONS)


@asynccontextmanager
async def _lifespan(app: FastAPI) -> AsyncIterator[None]:
    limiter = to_thread.current_default_thread_limiter()
    limiter.total_tokens = 2 * app.state.settings.max_requests  # nobody taken in waits for one
    await to_thread.run_sync(prepare_records, app)
    await to_thread.run_sync(app.state.guard.door.check)
    yield
    if app.state.records is not None:
        app.state.records.close()
    stop_traces()


def prepare_records(app: FastAPI) -> None:
    """Bring the database to the tables of this version, where the settings say so.

    A database that can't be reached is told in the log and by `/readyz`: swings are analysed
    without it all the same.

    Raises
    ------
    ForeignDatabase
        When the tables are those of a later version or of another program.
    """
    records = app.state.records
    if records is None:
        return
    try:
        if app.state.settings.migrate_on_start:
            upgrade(records)
        records.forget_deleted()  # what the last run may have left
    except RecordsUnavailable as error:
        _log.error("the records were not brought up to date: %s", error)
