"""The figures for Prometheus; part of the service only where the settings say so."""

from __future__ import annotations

from anyio import to_thread
from fastapi import APIRouter, Response
from prometheus_client import CONTENT_TYPE_LATEST

from service.api.http.dependencies import CountedBy, CurrentReadiness, CurrentSettings

router = APIRouter()


@router.get("/metrics", include_in_schema=False)
async def get_metrics(
    readiness: CurrentReadiness, settings: CurrentSettings, metrics: CountedBy
) -> Response:
    """Give every figure, of all processes; nothing of any player is among them."""
    checks = {check.name: check.passed for check in await readiness.check()}
    text = await to_thread.run_sync(metrics.text, checks, settings.max_requests)
    return Response(text, media_type=CONTENT_TYPE_LATEST)
