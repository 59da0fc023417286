"""What became of the lines of a batch, read in their order while it runs."""

from __future__ import annotations

import gzip

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.records.batches.entities import LINES_AN_ITEM, OPEN, Results
from service.records.batches.tables import BatchResultRow, BatchRow
from service.records.errors import RecordNotFound


def find(session: Session, batch_id: str, line: int) -> Results | None:
    """The results that go on at a line or, once a batch is over, after it.

    Returns
    -------
    ``None`` when there are none, or not yet in the order of the lines; :func:`is_over` tells which.
    """
    query = (
        select(BatchResultRow)
        .where(
            BatchResultRow.batch_id == batch_id,
            BatchResultRow.first_line > line - LINES_AN_ITEM,
            BatchResultRow.first_line + BatchResultRow.n_lines > line,
        )
        .order_by(BatchResultRow.first_line)
        .limit(1)
    )
    row = session.scalars(query).first()
    if row is None or (row.first_line > line and not is_over(session, batch_id)):
        return None
    return Results(row.first_line, row.n_lines, gzip.decompress(row.body))


def is_over(session: Session, batch_id: str) -> bool:
    """Whether no more results will come.

    Raises
    ------
    RecordNotFound
        When the batch was deleted.
    """
    state = session.scalar(select(BatchRow.state).where(BatchRow.id == batch_id))
    if state is None:
        raise RecordNotFound("batch")
    return state not in OPEN
