"""What a batch is, as plain frozen dataclasses."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum
from typing import Any, Final

from service.records.entities import Role

LINES_AN_ITEM: Final[int] = 32
"""Most lines of an item, empty ones too: half a second of work, and few rows."""


class BatchState(StrEnum):
    """How far a batch is."""

    RECEIVING = "receiving"
    LISTING = "listing"
    WAITING = "waiting"
    RUNNING = "running"
    DONE = "done"
    CANCELLED = "cancelled"
    FAILED = "failed"


OPEN: Final = frozenset({BatchState.LISTING, BatchState.WAITING, BatchState.RUNNING})
"""States in which there is something to do."""


class CallbackState(StrEnum):
    """Whether whoever asked to be told that a batch is done was told."""

    WAITING = "waiting"
    DELIVERED = "delivered"
    GIVEN_UP = "given_up"


class ItemKind(StrEnum):
    """What an item holds: lines of JSON, names of files, rows of a table, or a folder to list."""

    LINES = "lines"
    FILES = "files"
    ROWS = "rows"
    LISTING = "listing"


@dataclass(frozen=True)
class Callback:
    """Whom to tell that a batch is done, and the secret that signs it."""

    url: str
    secret: str


@dataclass(frozen=True)
class CallbackTry:
    """What became of one try to tell somebody.

    Attributes
    ----------
    status
        Of the answer; ``None`` where none came.
    problem
        Why it failed, in words; ``None`` where it did not.
    """

    at: datetime
    status: int | None
    problem: str | None


@dataclass(frozen=True)
class NewBatch:
    """What is asked for.

    Attributes
    ----------
    folder
        Where the swings lie, below the archive of the academy; ``None`` where they were sent.
    assumed
        Fields of a request for swings of the folder that lack them.
    lesson_id
        The lesson in which the swings are kept; ``None`` keeps none.
    recorded_at
        When the swings that are kept were made; when each is done where ``None``.
    """

    folder: str | None = None
    lesson_id: str | None = None
    role: Role = Role.OTHER
    recorded_at: datetime | None = None
    callback: Callback | None = None
    assumed: Mapping[str, Any] = field(default_factory=dict)

    @property
    def filled_in(self) -> Mapping[str, Any]:
        """Fields of a request for swings that lack them, by their role too."""
        by_role = {"intent": self.role.intent.value} if self.role is Role.REHEARSAL else {}
        return by_role | dict(self.assumed)


@dataclass(frozen=True)
class Batch(NewBatch):
    """A batch as it stands. Times are UTC.

    Attributes
    ----------
    total
        Lines that are not empty, as far as is known while a folder is listed.
    done, failed
        Lines that were analysed, and those that could not be.
    problem
        Why it failed as a whole.
    passed_over
        Files of the folder that are not read, counted by how their names end; ``None`` until it is
        listed, and of lines.
    callback_last, callback_next
        What became of the last try to tell somebody, and when the next one is due.
    """

    id: str = ""
    state: BatchState = BatchState.RECEIVING
    created: datetime = datetime.min
    started: datetime | None = None
    finished: datetime | None = None
    total: int = 0
    done: int = 0
    failed: int = 0
    problem: str | None = None
    passed_over: Mapping[str, int] | None = None
    callback_state: CallbackState | None = None
    callback_tries: int = 0
    callback_last: CallbackTry | None = None
    callback_next: datetime | None = None
    needs_consent: bool = False
    key_prefix: str | None = None
    request_id: str = ""


@dataclass(frozen=True)
class NewItem:
    """Some lines to be done.

    Attributes
    ----------
    path
        The file in which the lines stand; ``None`` for lines that were sent.
    first_line
        Number of its first line in the batch, from 1.
    first_in_file
        Number of its first line in the file, from 1.
    body
        Lines of JSON, or what the kind says; not packed.
    """

    number: int
    kind: ItemKind
    first_line: int
    body: bytes
    path: str | None = None
    first_in_file: int = 1


@dataclass(frozen=True)
class LeasedItem(NewItem):
    """An item that a worker has for a while.

    Attributes
    ----------
    leased_by
        The worker, with a word of its own each time it takes one.
    attempts
        How often it was taken.
    """

    batch_id: str = ""
    leased_by: str = ""
    attempts: int = 1


@dataclass(frozen=True)
class Results:
    """What became of some lines.

    Attributes
    ----------
    lines
        A line of JSON for each that is not empty, each ending with a newline.
    n_lines
        Lines of the batch that this covers, empty ones too.
    """

    first_line: int
    n_lines: int
    lines: bytes
    done: int = 0
    failed: int = 0
