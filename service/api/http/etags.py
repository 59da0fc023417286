"""ETag and If-Match (RFC 9110, sections 8.8.3 and 13.1.1): no change of another is overwritten."""

from __future__ import annotations

import re
from typing import Annotated

from fastapi import Depends, Header, Response

from service.api.http.problems import PRECONDITION_REQUIRED, ProblemError

_TAG = re.compile(r'\s*"([0-9]{1,18})"\s*')

_IfMatch = Annotated[
    str | None,
    Header(description="The ETag of what you read, or `*`. A stale one is answered with 412."),
]


def tag(response: Response, version: int) -> None:
    """Give an answer the ETag of a version."""
    response.headers["ETag"] = f'"{version}"'


def _versions(if_match: _IfMatch = None) -> frozenset[int] | None:
    """Versions that are fine; ``None`` for any. What is no ETag of ours matches none."""
    if if_match is None or if_match.strip() == "*":
        return None
    matches = (_TAG.fullmatch(each) for each in if_match.split(","))
    return frozenset(int(match[1]) for match in matches if match)


def _required_versions(if_match: _IfMatch = None) -> frozenset[int] | None:
    if if_match is None:
        raise ProblemError(PRECONDITION_REQUIRED, PRECONDITION_REQUIRED.meaning)
    return _versions(if_match)


ExpectedVersions = Annotated[frozenset[int] | None, Depends(_versions)]
RequiredVersions = Annotated[frozenset[int] | None, Depends(_required_versions)]
