"""Gzip made to cost more than it looks."""

from __future__ import annotations

import gzip
import time

import pytest

from service.api.http.bodies.gzip_bodies import gunzip
from service.api.problems.details import ProblemError

LIMIT = 16 * 1024 * 1024


def test_835_000_empty_members_are_refused_within_a_second_of_work() -> None:
    body = gzip.compress(b"") * 835_000
    begin = time.thread_time()
    with pytest.raises(ProblemError, match="members"):
        gunzip(body[:LIMIT], LIMIT)
    assert time.thread_time() - begin < 1.0


def test_24_kb_that_unpack_to_16_mib_are_refused_within_a_second_of_work() -> None:
    body = gzip.compress(b"[" + b"[]," * (LIMIT // 3 - 2) + b"[]]")
    assert len(body) < 30_000
    begin = time.thread_time()
    with pytest.raises(ProblemError, match="100 times"):
        gunzip(body, LIMIT)
    assert time.thread_time() - begin < 1.0
