"""Idempotency-Key: a request that keeps something may be sent again and keeps nothing twice.

After draft-ietf-httpapi-idempotency-key-header: the same key with the same request gets the first
answer again, with another request 422. Refusals are not kept, as nothing was done.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import timedelta
from typing import Annotated, Final, Literal, TypeVar

from fastapi import Depends, Header, Request, Response
from pydantic import BaseModel
from sqlalchemy.orm import Session

from service.api.http.dependencies import CurrentSettings, Records
from service.api.http.languages import of_language
from service.languages import ENGLISH, Language
from service.records import Database, KeyTaken
from service.records.keeping import retries
from service.records.keeping.retries import Attempt, FirstAnswer

Kept = TypeVar("Kept")
Also = Callable[[Session, Kept], None]
"""To be called in the transaction that keeps what was asked for."""

IDEMPOTENCY_KEY: Final[str] = "Idempotency-Key"
_TRIES: Final[int] = 3

_Key = Annotated[
    str | None,
    Header(
        alias=IDEMPOTENCY_KEY,
        pattern=r"^[\x21-\x7e]{1,200}$",
        description="Any text of your own, best a random UUID. Sent again with the same request "
        "it gets the first answer again and nothing is kept twice; with another request it is "
        "answered with 422.",
    ),
]


@dataclass(frozen=True)
class Retries:
    """A request that may be a retry.

    Attributes
    ----------
    place
        Method, path and query, and the language of the answer where it has one.
    key
        ``None`` where none was sent; then every request is done.
    """

    records: Database
    keep_for: timedelta
    place: str
    key: str | None

    def line(self, number: int) -> Retries:
        """One line of a request, which is a request of its own."""
        return self if self.key is None else replace(self, key=f"{self.key} line {number}")

    def told_in(self, language: Language) -> Retries:
        """The request as one for an answer in a language: in another it is another request.

        In English it is what it was before answers had a language, for retries over an upgrade.
        """
        if language is ENGLISH:
            return self
        return replace(self, place=f"{self.place} {language.code}")

    def once(
        self,
        body: bytes,
        keep: Callable[[Also[Kept]], Kept],
        answer: Callable[[Kept], FirstAnswer],
    ) -> FirstAnswer:
        """Do what is asked for, or give the first answer where it was done before.

        Parameters
        ----------
        keep
            Keeps what is asked for, and calls what it is given in the same transaction.

        Raises
        ------
        KeyReused
            When the key was used for another request.
        """
        if self.key is None:
            return answer(keep(_nothing))
        digest = hashlib.sha256(self.place.encode() + b"\n" + body).digest()
        attempt = Attempt(self.key, digest, self.keep_for)

        def also(session: Session, kept: Kept) -> None:
            retries.keep(session, attempt, answer(kept))

        for _ in range(_TRIES):
            with self.records.reading() as session:
                first = retries.find(session, attempt)
            if first is not None:
                return first
            try:
                return answer(keep(also))
            except KeyTaken:
                continue  # the one that was faster has left its answer
        raise KeyTaken(f"requests with the key keep getting in each other's way, {_TRIES} times")


def first_answer(
    kind: Literal["player", "lesson", "swing", "batch"],
    record_id: str,
    location: str,
    version: int,
    answer: BaseModel,
) -> FirstAnswer:
    """The answer to what was made.

    Parameters
    ----------
    kind, record_id
        What was made, or what it was added to.
    """
    body = answer.model_dump_json().encode()
    return FirstAnswer(kind, record_id, location, f'"{version}"', body)


def created(first: FirstAnswer, told_in: Language | None = None) -> Response:
    """The answer, as it was given first; with its language where it has texts of the service."""
    headers = {"Location": first.location, "ETag": first.etag}
    if told_in is not None:
        headers |= of_language(told_in)
    return Response(first.body, 201, headers, "application/json")


def accepted(first: FirstAnswer) -> Response:
    """The answer to what is still to be done, as it was given first."""
    return Response(first.body, 202, {"Location": first.location}, "application/json")


async def _retries(
    request: Request, records: Records, settings: CurrentSettings, key: _Key = None
) -> Retries:
    place = f"{request.method} {request.url.path}?{request.url.query}"
    return Retries(records, timedelta(hours=settings.retry_hours), place, key)


def _nothing(_: Session, __: object) -> None:
    """Nothing else is to be done."""


MayBeRetry = Annotated[Retries, Depends(_retries)]
