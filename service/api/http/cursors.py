"""Cursors: where in a list a page ends, good only for that list and its filters."""

from __future__ import annotations

import hashlib
import json
from base64 import urlsafe_b64decode, urlsafe_b64encode
from typing import Final

from pydantic import BaseModel, ConfigDict, Field

from service.api.problems.parameters import FIXES, wrong_parameter
from service.records import Page, Window
from service.records.identity import is_id

MAX_LIMIT: Final[int] = 100
_MAX_CURSOR = 200


class PageQuery(BaseModel):
    """Which part of a list is wanted; subclasses add filters."""

    model_config = ConfigDict(extra="forbid")

    limit: int = Field(default=20, ge=1, le=MAX_LIMIT, description="Most entries on a page.")
    cursor: str | None = Field(
        default=None,
        max_length=_MAX_CURSOR,
        description="`next_cursor` of the page before, with the same filters. Entries made "
        "meanwhile neither repeat nor hide any other.",
    )

    def window(self, list_name: str) -> Window:
        """The part that is wanted of the list with a name.

        Raises
        ------
        RequestValidationError
            When the cursor is from another list or other filters, or from nowhere.
        """
        if self.cursor is None:
            return Window(self.limit)
        list_print, _, after = _unpacked(self.cursor).partition(" ")
        if list_print != self._fingerprint(list_name) or not is_id(after):
            wrong = "is not a cursor of this list with these filters"
            raise wrong_parameter("cursor", wrong, FIXES["cursor"])
        return Window(self.limit, after)

    def next_cursor(self, list_name: str, page: Page[object]) -> str | None:
        """The cursor of the page after; ``None`` at the end."""
        return page.last and _packed(f"{self._fingerprint(list_name)} {page.last}")

    def _fingerprint(self, list_name: str) -> str:
        filters = self.model_dump(mode="json", exclude={"limit", "cursor"})
        text = json.dumps([list_name, filters], sort_keys=True)
        return hashlib.sha256(text.encode()).hexdigest()[:16]


def _packed(text: str) -> str:
    return urlsafe_b64encode(text.encode()).decode().rstrip("=")


def _unpacked(cursor: str) -> str:
    """What was packed, or an empty text where nothing was."""
    try:
        return urlsafe_b64decode(cursor.encode() + b"=" * (-len(cursor) % 4)).decode()
    except ValueError:
        return ""
