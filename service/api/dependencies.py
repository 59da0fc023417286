"""What routes ask for, declared once."""

from __future__ import annotations

from typing import Annotated

from fastapi import Depends, Request

from service.api.body import read_body
from service.api.readiness import Check
from service.settings import Settings


def _settings(request: Request) -> Settings:
    settings = request.app.state.settings
    assert isinstance(settings, Settings)
    return settings


def _checks(request: Request) -> list[Check]:
    return list(request.app.state.checks)


CurrentSettings = Annotated[Settings, Depends(_settings)]
StartupChecks = Annotated[list[Check], Depends(_checks)]


async def _body(request: Request, settings: CurrentSettings) -> bytes:
    return await read_body(request, settings.max_body_bytes)


JsonBody = Annotated[bytes, Depends(_body)]
