"""The figures for Prometheus; part of the service only where the settings say so."""

from __future__ import annotations

import logging
from collections.abc import Iterable
from typing import Final

from anyio import CapacityLimiter, move_on_after, to_thread
from fastapi import APIRouter, Request, Response
from prometheus_client import CONTENT_TYPE_LATEST
from prometheus_client.core import Metric

from service.api.health.readiness import LONGEST
from service.api.http.dependencies import CountedBy, CurrentReadiness, CurrentSettings
from service.observing.exposition import backlog_figures, service_figures, text
from service.records import Database, RecordsError
from service.records.batches.backlog import Backlog, backlog

router = APIRouter()

_LANE: Final = CapacityLimiter(1)
"""However long a database takes, no more than one thread waits for what it says."""

_log = logging.getLogger(__name__)


@router.get("/metrics", include_in_schema=False)
async def get_metrics(
    request: Request, readiness: CurrentReadiness, settings: CurrentSettings, metrics: CountedBy
) -> Response:
    """Give every figure, of all processes; nothing of any player is among them."""
    checks = {check.name: check.passed for check in await readiness.check()}
    now = [*service_figures(metrics, checks, settings.max_requests)]
    now += await _backlog(request.app.state.records)
    told = await to_thread.run_sync(text, metrics, now)
    return Response(told, media_type=CONTENT_TYPE_LATEST)


async def _backlog(database: Database | None) -> Iterable[Metric]:
    """What is still to be done of batches; nothing where the database does not say so in time."""
    if database is None:
        return ()
    found: Backlog | None = None
    with move_on_after(LONGEST):
        try:
            found = await to_thread.run_sync(
                backlog, database, limiter=_LANE, abandon_on_cancel=True
            )
        except RecordsError as error:
            _log.error("the queue of batches is not told: %s", error)
    if found is None:
        return ()
    return backlog_figures(found.waiting, found.in_hand, found.oldest, found.callbacks)
