"""Answers about the audit."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated

from fastapi import Query
from pydantic import BaseModel, ConfigDict, Field, StringConstraints

from service.api.http.cursors import PageQuery
from service.records.entities import AuditAction

_Uuid = Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$")]


class AuditEntryAnswer(BaseModel):
    """One thing that somebody did. What was measured or written is not in it."""

    model_config = ConfigDict(from_attributes=True)

    id: str
    at: datetime
    key_prefix: str | None = Field(description="Start of the key that was used; null without keys.")
    request_id: str = Field(description="The X-Request-ID under which it was logged.")
    method: str
    route: str = Field(description="The path, with its parameters' names in place of their values.")
    action: AuditAction
    player_ids: list[str] = Field(description="Whose data it was, as far as they are told.")
    lesson_ids: list[str]
    swing_ids: list[str]
    omitted: int = Field(description="How many more ids there were: at most 100 a list are told.")


class AuditQuery(PageQuery):
    """Which entries are wanted."""

    player_id: _Uuid | None = Field(default=None, description="Only what was done with this one's.")


class AuditExportQuery(BaseModel):
    """Which entries are exported."""

    model_config = ConfigDict(extra="forbid")

    player_id: _Uuid | None = Field(default=None, description="Only what was done with this one's.")


AuditPageOf = Annotated[AuditQuery, Query()]
AuditExportOf = Annotated[AuditExportQuery, Query()]
