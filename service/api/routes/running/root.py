"""What is here, for whoever opens the address."""

from __future__ import annotations

from fastapi import APIRouter
from pydantic import BaseModel, Field

from service import __version__
from service.api.access.guard import CurrentGuard

router = APIRouter(tags=["catalogue"])


class Welcome(BaseModel):
    """What this is, and where to go on."""

    service: str = "Faults of a golf swing from pose keypoints"
    version: str = Field(default=__version__)
    analyse: str = Field(default="/v1/swings/analyze", description="POST a clip here.")
    examples: str = Field(default="/v1/examples", description="Requests to try.")
    faults: str = "/v1/faults"
    documentation: str = "/docs"
    contract: str = "/openapi.json"
    health: str = "/readyz"
    access: str = Field(description="Who is let in.")


@router.get("/", summary="What this is")
async def get_welcome(guard: CurrentGuard) -> Welcome:
    """Say what this is, who is let in, and where to go on."""
    return Welcome(access=guard.door.told())
