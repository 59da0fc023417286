"""First answers to requests that kept something, so that sending one again keeps nothing twice.

The answer is kept in the same transaction as what was made, under a key of the caller's: either
both are there or neither is. Of requests with one key that come at once, the database lets one
through. After draft-ietf-httpapi-idempotency-key-header.
"""

from __future__ import annotations

import gzip
from dataclasses import dataclass
from datetime import timedelta
from typing import Final, Literal, get_args

from sqlalchemy import delete, select
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from service.records import _rows
from service.records.errors import KeyReused, KeyTaken
from service.records.tables import RetryRow

Kind = Literal["player", "lesson", "swing", "batch"]

_KINDS: Final[tuple[Kind, ...]] = get_args(Kind)
_PURGED_AT_ONCE: Final[int] = 100


@dataclass(frozen=True)
class Attempt:
    """A request under a key.

    Attributes
    ----------
    fingerprint
        Digest of all that the request asks for.
    keep_for
        How long first answers are kept.
    """

    key: str
    fingerprint: bytes
    keep_for: timedelta


@dataclass(frozen=True)
class FirstAnswer:
    """What was answered once something had been made; it is forgotten with what was made.

    Attributes
    ----------
    kind, record_id
        What was made, or what it was added to.
    """

    kind: Kind
    record_id: str
    location: str
    etag: str
    body: bytes


def find(session: Session, attempt: Attempt) -> FirstAnswer | None:
    """The first answer to a request under this key; ``None`` where there is none or no longer.

    Raises
    ------
    KeyReused
        When the key was used for another request.
    """
    row = session.scalars(select(RetryRow).where(RetryRow.key == attempt.key)).first()
    if row is None or row.created < _rows.now() - attempt.keep_for:
        return None
    if row.fingerprint != attempt.fingerprint:
        raise KeyReused
    ids: dict[Kind, str | None] = {kind: getattr(row, f"{kind}_id") for kind in _KINDS}
    kind, record_id = next((kind, found) for kind, found in ids.items() if found is not None)
    return FirstAnswer(kind, record_id, row.location, row.etag, gzip.decompress(row.body))


def keep(session: Session, attempt: Attempt, answer: FirstAnswer) -> None:
    """Keep a first answer, and forget some of those kept for long enough.

    Raises
    ------
    KeyTaken
        When another request with the key was faster; the transaction is lost.
    """
    _forget_old(session, attempt)
    row = RetryRow(
        key=attempt.key,
        fingerprint=attempt.fingerprint,
        created=_rows.now(),
        location=answer.location,
        etag=answer.etag,
        body=gzip.compress(answer.body, mtime=0),
        **{f"{answer.kind}_id": answer.record_id},
    )
    session.add(row)
    try:
        session.flush()
    except IntegrityError as error:
        raise KeyTaken from error


def _forget_old(session: Session, attempt: Attempt) -> None:
    old = RetryRow.created < _rows.now() - attempt.keep_for
    # Rows that another request is forgetting are left to it, as each would wait for the other.
    some = select(RetryRow.key).where(old).limit(_PURGED_AT_ONCE).with_for_update(skip_locked=True)
    keys = session.scalars(some).all()
    session.execute(delete(RetryRow).where(RetryRow.key.in_(keys)))
    session.execute(delete(RetryRow).where(RetryRow.key == attempt.key, old))
