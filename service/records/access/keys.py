"""Keys to the service: make, find, list, rotate, revoke.

A key is ``swing_PREFIX_SECRET``: the prefix finds its row and may be shown; of the whole only the
SHA-256 digest is kept. A slow hash, as for passwords, would gain nothing: the secret is 256 bits of
chance, which nobody tries out, and it would cost every request what it is meant to cost a thief.
"""

from __future__ import annotations

import hashlib
import hmac
import re
import secrets
from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from typing import Final

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.records import _rows
from service.records.errors import RecordNotFound
from service.records.identity import new_id
from service.records.tables import KeyRow

_PREFIX_BYTES: Final[int] = 6
_SECRET_BYTES: Final[int] = 32
_KEY: Final = re.compile(
    rf"(swing_[0-9a-f]{{{2 * _PREFIX_BYTES}}})_[0-9a-f]{{{2 * _SECRET_BYTES}}}"
)


class KeyScope(StrEnum):
    """What a key is good for."""

    ANALYSE = "analyse"
    READ = "read"
    WRITE = "write"
    REVIEW = "review"
    BATCH = "batch"
    ADMIN = "admin"


@dataclass(frozen=True)
class ApiKey:
    """What is kept of a key. Times are UTC; without ``expires`` it is good until revoked."""

    academy_id: str
    prefix: str
    digest: bytes
    scopes: frozenset[KeyScope]
    name: str | None
    created: datetime
    expires: datetime | None
    revoked: datetime | None

    def opens(self, sent: str, now: datetime) -> bool:
        """Whether what was sent is this key, and still good."""
        return hmac.compare_digest(self.digest, _digest(sent)) and self.good(now)

    def good(self, now: datetime) -> bool:
        """Whether it is neither revoked nor expired."""
        return all(end is None or now < end for end in (self.expires, self.revoked))


def prefix_of(sent: str) -> str | None:
    """The prefix of what has the form of a key; ``None`` of what has not.

    >>> prefix_of("swing_0123456789ab_" + 64 * "0")
    'swing_0123456789ab'
    """
    match = _KEY.fullmatch(sent)
    return match[1] if match else None


def add(
    session: Session,
    academy_id: str,
    scopes: Collection[KeyScope],
    name: str | None = None,
    lasts: timedelta | None = None,
) -> tuple[ApiKey, str]:
    """Make a key; the key itself is told here and never again."""
    prefix = f"swing_{secrets.token_hex(_PREFIX_BYTES)}"
    key = f"{prefix}_{secrets.token_hex(_SECRET_BYTES)}"
    now = _rows.now()
    row = KeyRow(
        id=new_id(),
        academy_id=academy_id,
        prefix=prefix,
        digest=_digest(key),
        scopes=" ".join(sorted(scopes)),
        name=name,
        created=now,
        expires=None if lasts is None else now + lasts,
        revoked=None,
    )
    session.add(row)
    session.flush()
    return _key(row), key


def find(session: Session, prefix: str) -> ApiKey | None:
    """The key with a prefix, good or no longer."""
    row = session.scalars(select(KeyRow).where(KeyRow.prefix == prefix)).first()
    return None if row is None else _key(row)


def any_made(session: Session) -> bool:
    """Whether a key was ever made, good or no longer."""
    return session.scalar(select(KeyRow.id).limit(1)) is not None


def fetch_all(session: Session, academy_id: str | None = None) -> list[ApiKey]:
    """The keys of an academy or of all, in the order in which they were made."""
    query = select(KeyRow).order_by(KeyRow.id)
    if academy_id is not None:
        query = query.where(KeyRow.academy_id == academy_id)
    return [_key(row) for row in session.scalars(query)]


def rotate(session: Session, prefix: str, grace: timedelta) -> tuple[ApiKey, str]:
    """Make a key that is good for the same and as long; the one before ends after ``grace``.

    Raises
    ------
    RecordNotFound
        When there is no key with the prefix, or it is no longer good.
    """
    row, now = _require(session, prefix), _rows.now()
    old = _key(row)
    if not old.good(now):
        raise RecordNotFound("key that is still good")
    lasts = None if old.expires is None else old.expires - old.created
    made = add(session, old.academy_id, old.scopes, old.name, lasts)
    row.expires = min(old.expires or now + grace, now + grace)
    session.flush()
    return made


def revoke(session: Session, prefix: str) -> ApiKey:
    """End a key now; revoking it again changes nothing.

    Raises
    ------
    RecordNotFound
        When there is no key with the prefix.
    """
    row = _require(session, prefix)
    row.revoked = row.revoked or _rows.now()
    session.flush()
    return _key(row)


def _require(session: Session, prefix: str) -> KeyRow:
    row = session.scalars(select(KeyRow).where(KeyRow.prefix == prefix)).first()
    if row is None:
        raise RecordNotFound("key")
    return row


def _key(row: KeyRow) -> ApiKey:
    return ApiKey(
        academy_id=row.academy_id,
        prefix=row.prefix,
        digest=row.digest,
        scopes=frozenset(map(KeyScope, row.scopes.split())),
        name=row.name,
        created=row.created,
        expires=row.expires,
        revoked=row.revoked,
    )


def _digest(key: str) -> bytes:
    return hashlib.sha256(key.encode()).digest()
