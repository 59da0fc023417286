"""Results as a stream in the order of the lines, followed while the batch runs."""

from __future__ import annotations

from collections.abc import AsyncIterator, Callable
from typing import Final

import anyio
from anyio import to_thread

from service.api.batches.flat import ParquetParts, as_csv, csv_head
from service.api.batches.media import Form
from service.api.problems.details import ProblemError
from service.api.problems.kinds import TOO_BUSY
from service.records import Database
from service.records.batches import results
from service.records.batches.entities import Results

_LOOKS: Final[float] = 0.5
"""Seconds after which a follower looks whether there is more."""

_RETRY_AFTER: Final[dict[str, str]] = {"Retry-After": "5"}


class Followers:
    """How many streams are open, of which there may be some: each holds a request taken in.

    Parameters
    ----------
    most
        Streams at once.
    """

    def __init__(self, most: int) -> None:
        self._most = most
        self._open = 0

    def enter(self) -> None:
        """Count one more.

        Raises
        ------
        ProblemError
            When it is one too many.
        """
        if self._open >= self._most:
            raise ProblemError(TOO_BUSY, TOO_BUSY.meaning, _RETRY_AFTER)
        self._open += 1

    def leave(self) -> None:
        """Count one less."""
        self._open -= 1


async def stream(
    database: Database,
    batch_id: str,
    form: Form,
    after: int,
    follow: bool,
    followers: Followers,
) -> AsyncIterator[bytes]:
    """The results after a line; the caller has entered the followers.

    Parameters
    ----------
    follow
        Whether to wait for those that are still to come.

    Raises
    ------
    RecordNotFound
        When the batch is deleted meanwhile; whoever reads sees the answer break off.
    """
    try:
        if form is Form.CSV:
            yield csv_head()
        parquet = await to_thread.run_sync(ParquetParts) if form is Form.PARQUET else None
        convert = _converter(form, parquet)
        line = after + 1
        while True:
            found, over = await to_thread.run_sync(_next, database, batch_id, line)
            if found is not None:
                kept = _from(found, line)
                line = found.first_line + found.n_lines
                if text := await to_thread.run_sync(convert, kept):
                    yield text
            elif over or not follow:
                break
            else:
                await anyio.sleep(_LOOKS)
        if parquet is not None:
            yield await to_thread.run_sync(parquet.end)
    finally:
        followers.leave()


def _converter(form: Form, parquet: ParquetParts | None) -> Callable[[bytes], bytes]:
    if parquet is not None:
        return parquet.add
    return as_csv if form is Form.CSV else bytes


def _next(database: Database, batch_id: str, line: int) -> tuple[Results | None, bool]:
    """The next results, and whether no more will come; both of one moment."""
    with database.reading() as session:
        return results.find(session, batch_id, line), results.is_over(session, batch_id)


def _from(found: Results, line: int) -> bytes:
    """The lines of results from a number on; each begins with its number."""
    if found.first_line >= line:
        return found.lines
    return b"".join(each for each in found.lines.splitlines(keepends=True) if _number(each) >= line)


def _number(line: bytes) -> int:
    return int(line.partition(b",")[0].partition(b":")[2])
