"""What routes ask for, declared once."""

from __future__ import annotations

from collections.abc import AsyncIterator
from typing import IO, Annotated

from fastapi import Depends, Request

from service.api.http.body import read_body, spool_lines
from service.api.http.problems import RECORDS_UNAVAILABLE, ProblemError
from service.api.http.readiness import Check
from service.records import Database
from service.settings import Settings
from service.use_cases.analyse import Analyser


def _settings(request: Request) -> Settings:
    settings = request.app.state.settings
    assert isinstance(settings, Settings)
    return settings


def _analyser(request: Request) -> Analyser:
    analyser = request.app.state.analyser
    assert isinstance(analyser, Analyser)
    return analyser


def _checks(request: Request) -> list[Check]:
    return list(request.app.state.checks)


def _records(request: Request) -> Database:
    database = request.app.state.records
    if database is None:
        raise ProblemError(RECORDS_UNAVAILABLE, RECORDS_UNAVAILABLE.meaning)
    assert isinstance(database, Database)
    return database


CurrentSettings = Annotated[Settings, Depends(_settings)]
ServedAnalyser = Annotated[Analyser, Depends(_analyser)]
StartupChecks = Annotated[list[Check], Depends(_checks)]
Records = Annotated[Database, Depends(_records)]


async def _body(request: Request, settings: CurrentSettings) -> bytes:
    return await read_body(request, settings.max_body_bytes)


JsonBody = Annotated[bytes, Depends(_body)]


async def _lines(request: Request, settings: CurrentSettings) -> AsyncIterator[IO[bytes]]:
    with await spool_lines(request, settings.max_batch_bytes) as file:
        yield file


JsonLines = Annotated[IO[bytes], Depends(_lines)]
