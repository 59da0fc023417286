"""What routes ask for, declared once.

What only looks something up is ``async``: the framework hands everything else to a worker thread,
which costs more processor time than checking a body.
"""

from __future__ import annotations

from collections.abc import AsyncIterator
from threading import BoundedSemaphore
from typing import IO, Annotated

from fastapi import Depends, Request

from service.api.health.readiness import Readiness
from service.api.http.bodies.body import SentBody, receive_body, spool_lines
from service.api.http.problems import RECORDS_UNAVAILABLE, ProblemError
from service.observing.metrics import Metrics
from service.records import Behalf, Database
from service.report.branding import Branding
from service.settings import Settings
from service.use_cases.analyse import Analyser


async def _settings(request: Request) -> Settings:
    settings = request.app.state.settings
    assert isinstance(settings, Settings)
    return settings


async def _readiness(request: Request) -> Readiness:
    readiness = request.app.state.readiness
    assert isinstance(readiness, Readiness)
    return readiness


async def _analyser(request: Request) -> Analyser:
    analyser = request.app.state.analyser
    assert isinstance(analyser, Analyser)
    return analyser


async def _turn(request: Request) -> BoundedSemaphore:
    turn = request.app.state.turn
    assert isinstance(turn, BoundedSemaphore)
    return turn


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


CurrentSettings = Annotated[Settings, Depends(_settings)]
CurrentReadiness = Annotated[Readiness, Depends(_readiness)]
ServedAnalyser = Annotated[Analyser, Depends(_analyser)]
OwnBranding = Annotated[Branding, Depends(_branding)]
CountedBy = Annotated[Metrics, Depends(_metrics)]
Records = Annotated[Database, Depends(needs_records)]
Turn = Annotated[BoundedSemaphore, Depends(_turn)]
"""Held while a clip is unpacked, read and analysed: more at once get less done."""


async def _clip_body(request: Request, settings: CurrentSettings) -> SentBody:
    return await receive_body(request, settings.max_body_bytes)


async def _small_body(request: Request, settings: CurrentSettings) -> SentBody:
    return await receive_body(request, settings.max_record_bytes)


ClipBody = Annotated[SentBody, Depends(_clip_body)]
SmallBody = Annotated[SentBody, Depends(_small_body)]
"""The body of a request that holds no clip."""


async def _lines(request: Request, settings: CurrentSettings) -> AsyncIterator[IO[bytes]]:
    file, _ = await spool_lines(request, settings.max_batch_bytes)
    with file:
        yield file


JsonLines = Annotated[IO[bytes], Depends(_lines)]
