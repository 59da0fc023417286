"""Ids that sort by the time at which they were made."""

from __future__ import annotations

import hashlib
import re
import secrets
import time
import uuid

_ID = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}")


def new_id() -> str:
    """A UUID of version 7 (RFC 9562, sections 5.7 and 6.2).

    48 bits of milliseconds, 12 bits of fractions of a millisecond (method 3) and 62 of chance.

    >>> earlier = new_id(); time.sleep(0.001)
    >>> earlier < new_id()
    True
    """
    milliseconds, nanoseconds = divmod(time.time_ns(), 1_000_000)
    fraction = nanoseconds * 2**12 // 1_000_000
    bits = milliseconds << 80 | 0x7 << 76 | fraction << 64 | 0b10 << 62 | secrets.randbits(62)
    return str(uuid.UUID(int=bits))


def stable_id(milliseconds: int, *names: str) -> str:
    """An id of the same form whose bits of chance follow from some names, the same every time.

    >>> stable_id(0, "swing", "a") == stable_id(0, "swing", "a") != stable_id(0, "swing", "b")
    True
    """
    digest = hashlib.blake2b("\0".join(names).encode(), digest_size=10).digest()
    chance = int.from_bytes(digest)
    bits = milliseconds << 80 | 0x7 << 76 | (chance >> 62 & 0xFFF) << 64 | 0b10 << 62
    return str(uuid.UUID(int=bits | chance & (1 << 62) - 1))


def is_id(text: str) -> bool:
    """Whether a text has the form of an id.

    >>> is_id("nobody")
    False
    """
    return _ID.fullmatch(text) is not None
