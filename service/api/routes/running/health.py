"""Routes for whoever runs the service."""

from __future__ import annotations

from typing import Literal

from fastapi import APIRouter
from pydantic import BaseModel, Field

from service.api.access.guard import CurrentGuard
from service.api.health.readiness import Check
from service.api.http.dependencies import CurrentReadiness
from service.api.problems.details import ProblemError
from service.api.problems.kinds import COME_AGAIN, NOT_READY

router = APIRouter(tags=["health"])


class Health(BaseModel):
    """The process is up."""

    status: Literal["ok"] = "ok"


class Ready(BaseModel):
    """The service can do its work."""

    status: Literal["ready"] = "ready"
    checks: list[Check]
    access: str = Field(description="Who is let in.")


@router.get("/healthz", summary="Is the process up?")
async def healthz() -> Health:
    """Answer at once, whatever else is going on."""
    return Health()


@router.get("/readyz", summary="Can it do its work?")
async def readyz(readiness: CurrentReadiness, guard: CurrentGuard) -> Ready:
    """Check within a second that known swings are analysed by rules and models, and that the
    database can be reached, has the tables of this version and can be written. Who is let in is
    told too."""
    checks = await readiness.check()
    failed = [f"{check.name} ({check.detail})" for check in checks if not check.passed]
    if failed:
        raise ProblemError(NOT_READY, f"Failed: {', '.join(failed)}.", COME_AGAIN)
    return Ready(checks=checks, access=guard.door.told())
