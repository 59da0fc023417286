"""What routes ask for, declared once.

What only looks something up is ``async``: the framework hands everything else to a worker thread,
which costs more processor time than checking a body.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import AsyncIterator, Iterator
from threading import BoundedSemaphore
from typing import IO, Annotated, Final

from fastapi import Depends, Request
from fastapi.dependencies.models import Dependant
from fastapi.routing import APIRoute
from pydantic import BaseModel

from service.analysis.spelling import did_you_mean
from service.api.health.readiness import Readiness
from service.api.http.bodies.body import SentBody, receive_body, spool_lines
from service.api.load.turns import Turns
from service.api.problems.details import ProblemError
from service.api.problems.kinds import RECORDS_UNAVAILABLE
from service.api.problems.parameters import wrong_parameters
from service.observing.metrics import Metrics
from service.records import Behalf, Database
from service.report.branding import Branding
from service.settings import Settings
from service.use_cases.analyse import Analyser

CHECKED_PATHS: Final[str] = "/v1/"
"""Where the names of parameters are checked: probes and pages may be asked with others."""


def settings_of(request: Request) -> Settings:
    """The settings, for what is asked before every analysis: each dependency of another costs."""
    settings = request.app.state.settings
    assert isinstance(settings, Settings)
    return settings


async def _settings(request: Request) -> Settings:
    return settings_of(request)


async def _readiness(request: Request) -> Readiness:
    readiness = request.app.state.readiness
    assert isinstance(readiness, Readiness)
    return readiness


def analyser_of(request: Request) -> Analyser:
    """Whoever analyses, likewise."""
    analyser = request.app.state.analyser
    assert isinstance(analyser, Analyser)
    return analyser


async def _analyser(request: Request) -> Analyser:
    return analyser_of(request)


def turns_of(request: Request) -> Turns:
    """The turns in which clips are analysed, likewise."""
    turns = request.app.state.turns
    assert isinstance(turns, Turns)
    return turns


async def _turn(request: Request) -> BoundedSemaphore:
    return turns_of(request).turn


async def _branding(request: Request) -> Branding:
    branding = request.app.state.branding
    assert isinstance(branding, Branding)
    return branding


async def needs_records(request: Request) -> Database:
    """The database of the records, as whoever asks may see it.

    Raises
    ------
    ProblemError
        When none is set up.
    """
    database = request.app.state.records
    if database is None:
        raise ProblemError(RECORDS_UNAVAILABLE, RECORDS_UNAVAILABLE.meaning)
    behalf = request.state.behalf
    assert isinstance(database, Database)
    assert isinstance(behalf, Behalf)  # what is open to everybody has nothing to do with records
    return database.on_behalf(behalf)


async def _metrics(request: Request) -> Metrics:
    metrics = request.app.state.metrics
    assert isinstance(metrics, Metrics)
    return metrics


async def refuse_unknown_parameters(request: Request) -> None:
    """Refuse what no route would read: a slip in a parameter's name, or the first of two with one
    name, would change the answer without a word.

    Raises
    ------
    RequestValidationError
        With each parameter of the query that is there twice or that the route does not know, and
        those that it does.
    """
    route = request.scope["route"]
    if not request.url.query or not request.url.path.startswith(CHECKED_PATHS):
        return
    assert isinstance(route, APIRoute)
    known = sorted(_query_parameters(route.dependant))
    wrong = {}
    for name, times in Counter(name for name, _ in request.query_params.multi_items()).items():
        if name not in known:
            meant = did_you_mean(name, known)
            wrong[name] = (f"is not known here{meant}", _what_is_known(known))
        elif times > 1:
            wrong[name] = ("is sent more than once", "Send it once.")
    if wrong:
        raise wrong_parameters(wrong)


def _query_parameters(dependant: Dependant) -> Iterator[str]:
    """Names of the parameters that a route and all that it depends on read from the query."""
    for parameter in dependant.query_params:
        kind = parameter.field_info.annotation
        if isinstance(kind, type) and issubclass(kind, BaseModel):
            yield from (field.alias or name for name, field in kind.model_fields.items())
        else:
            yield parameter.alias
    for each in dependant.dependencies:
        yield from _query_parameters(each)


def _what_is_known(known: list[str]) -> str:
    if not known:
        return "Remove it; this path takes no parameters."
    return f"Remove it or correct its name; known are {', '.join(known)}."


CurrentSettings = Annotated[Settings, Depends(_settings)]
CurrentReadiness = Annotated[Readiness, Depends(_readiness)]
ServedAnalyser = Annotated[Analyser, Depends(_analyser)]
OwnBranding = Annotated[Branding, Depends(_branding)]
CountedBy = Annotated[Metrics, Depends(_metrics)]
Records = Annotated[Database, Depends(needs_records)]
Turn = Annotated[BoundedSemaphore, Depends(_turn)]
"""Held while a clip is unpacked, read and analysed."""


async def _clip_body(request: Request) -> SentBody:
    return await receive_body(request, settings_of(request).max_body_bytes)


async def _small_body(request: Request) -> SentBody:
    return await receive_body(request, settings_of(request).max_record_bytes)


ClipBody = Annotated[SentBody, Depends(_clip_body)]
SmallBody = Annotated[SentBody, Depends(_small_body)]
"""The body of a request that holds no clip."""


async def _lines(request: Request, settings: CurrentSettings) -> AsyncIterator[IO[bytes]]:
    file, _ = await spool_lines(request, settings.max_batch_bytes)
    with file:
        yield file


JsonLines = Annotated[IO[bytes], Depends(_lines)]
