"""Routes of the audit: who read or changed what of whom."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from fastapi import APIRouter
from fastapi.responses import StreamingResponse

from service.api.http.bodies.body import NDJSON
from service.api.http.dependencies import Records
from service.api.schemas.records.audit import AuditEntryAnswer, AuditExportOf, AuditPageOf
from service.api.schemas.records.records import PageAnswer, to_page
from service.records import Database, Window
from service.records.access import audit

router = APIRouter(prefix="/v1/audit", tags=["audit"])

_AT_ONCE: Final[int] = 500


@router.get("", summary="Who read or changed what of whom")
def list_audit(query: AuditPageOf, records: Records) -> PageAnswer[AuditEntryAnswer]:
    """List what was done with the data of the academy's players, in the order written down.

    Changes are written down at once, readings within a second or so: they can stand after changes
    that were made later. `at` tells when a thing was done.
    """
    with records.reading() as session:
        page = audit.fetch_page(session, query.window("audit"), query.player_id)
    return to_page(page, query, "audit", AuditEntryAnswer)


@router.get(
    "/export",
    summary="The whole audit",
    response_class=StreamingResponse,
    responses={
        200: {
            "description": "A line of JSON for each entry, in the order of the list.",
            "content": {
                NDJSON: {"schema": {"$ref": f"#/components/schemas/{AuditEntryAnswer.__name__}"}}
            },
        }
    },
)
def export_audit(query: AuditExportOf, records: Records) -> StreamingResponse:
    """Give every entry as a line of JSON (NDJSON), of one player or of all."""
    return StreamingResponse(_lines(records, query.player_id), media_type=NDJSON)


def _lines(records: Database, player_id: str | None) -> Iterator[bytes]:
    """Read as much at a time as fits in memory well."""
    window = Window(_AT_ONCE)
    while True:
        with records.reading() as session:
            page = audit.fetch_page(session, window, player_id)
        for entry in page.items:
            yield AuditEntryAnswer.model_validate(entry).model_dump_json().encode() + b"\n"
        if page.last is None:
            return
        window = Window(_AT_ONCE, page.last)
