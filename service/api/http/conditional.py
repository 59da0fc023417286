"""ETag, If-Match and If-None-Match (RFC 9110, sections 8.8.3, 13.1.1 and 13.1.2).

No change of another is overwritten, and what a caller has already is not sent again.
"""

from __future__ import annotations

import hashlib
import re
from typing import Annotated

from fastapi import Depends, Header, Response
from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from service.api.problems.details import ProblemError
from service.api.problems.kinds import PRECONDITION_REQUIRED
from service.api.problems.parameters import wrong_parameter
from service.records import Precondition

_OF_CONTENT = ("content-length", "content-type")
_TAG = re.compile(r'\s*"([0-9]{1,18})"\s*')
_BARE = re.compile(r"\s*[0-9]{1,18}\s*")

_IfMatch = Annotated[
    str | None,
    Header(description="The ETag of what you read, or `*`. A stale one is answered with 412."),
]
_IfMatchToPut = Annotated[
    str | None,
    Header(
        alias="If-Match",
        description="Where there is one already: the ETag of what you read, or `*`. A stale one "
        "is answered with 412, a missing one with 428.",
    ),
]
_IfNoneMatchToPut = Annotated[
    str | None,
    Header(
        alias="If-None-Match",
        description="`*` to put only where there is none yet; where there is, 412 is answered.",
    ),
]


def tag(response: Response, version: int) -> None:
    """Give an answer the ETag of a version."""
    response.headers["ETag"] = f'"{version}"'


def tag_of(body: bytes) -> str:
    """The ETag of an answer that has no version of its own, by what it says."""
    return f'"{hashlib.sha256(body).hexdigest()[:16]}"'


async def _versions(if_match: _IfMatch = None) -> frozenset[int] | None:
    return _fine(if_match)


def _fine(if_match: str | None) -> frozenset[int] | None:
    """Versions that are fine; ``None`` for any. What is no ETag of ours matches none."""
    if if_match is None or if_match.strip() == "*":
        return None
    if _BARE.fullmatch(if_match):
        raise wrong_parameter(
            "If-Match",
            "has lost the double quotes of the ETag",
            f'Send it with them, as in "{if_match.strip()}".',
        )
    if "W/" in if_match and '"' in if_match:
        raise wrong_parameter(
            "If-Match",
            "has a weak ETag, which never matches here (RFC 9110, section 13.1.1)",
            "Send the ETag without W/; a proxy that packs answers may have put it there.",
        )
    matches = (_TAG.fullmatch(each) for each in if_match.split(","))
    return frozenset(int(match[1]) for match in matches if match)


async def _required_versions(if_match: _IfMatch = None) -> frozenset[int] | None:
    if if_match is None:
        raise ProblemError(PRECONDITION_REQUIRED, PRECONDITION_REQUIRED.meaning)
    return _fine(if_match)


async def _precondition(
    if_match: _IfMatchToPut = None, if_none_match: _IfNoneMatchToPut = None
) -> Precondition:
    """What must be there already for a PUT, or must not."""
    return Precondition(
        versions=None if if_match is None else _fine(if_match) or frozenset(),
        any_version=if_match is not None and if_match.strip() == "*",
        none_yet=if_none_match is not None and if_none_match.strip() == "*",
    )


ExpectedVersions = Annotated[frozenset[int] | None, Depends(_versions)]
RequiredVersions = Annotated[frozenset[int] | None, Depends(_required_versions)]
PutPrecondition = Annotated[Precondition, Depends(_precondition)]


class NotModified:
    """Answers a GET with 304 where the answer has an ETag that the caller named."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on, and send only the head of an answer that is known."""
        known = _known(scope)
        if known is None:
            await self._app(scope, receive, send)
            return
        held_back = False

        async def send_unless_known(message: Message) -> None:
            nonlocal held_back
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                etag = headers.get("etag")
                held_back = message["status"] == 200 and etag is not None and _names(known, etag)
                if held_back:
                    message = {**message, "status": 304}
                    for name in _OF_CONTENT:
                        del headers[name]
                    message["headers"] = headers.raw
            elif held_back:
                message = {**message, "body": b""}
            await send(message)

        await self._app(scope, receive, send_unless_known)


def _known(scope: Scope) -> str | None:
    if scope["type"] != "http" or scope["method"] not in ("GET", "HEAD"):
        return None
    return Headers(scope=scope).get("if-none-match")


def _names(known: str, etag: str) -> bool:
    """Whether a list of tags has one, weak or not; ``*`` stands for any."""
    tags = [each.strip().removeprefix("W/") for each in known.split(",")]
    return etag in tags or tags == ["*"]
