"""What is wrong with a request, told field by field."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Final

MAX_ERRORS: Final[int] = 20
"""How many field errors are told; the rest are counted."""

_MAX_TOKEN = 64


@dataclass(frozen=True)
class FieldError:
    """One thing wrong: where (a JSON Pointer, RFC 6901), what, and what to send instead."""

    pointer: str
    problem: str
    fix: str


class MalformedJson(ValueError):
    """The text is not JSON."""


class TooLarge(ValueError):
    """The text is longer, or holds more values, than a request can need."""


class InvalidRequest(ValueError):
    """The request is JSON but breaks the contract.

    Attributes
    ----------
    errors : tuple of FieldError
        At most :data:`MAX_ERRORS` of them.
    omitted : int
        How many more there were.
    """

    def __init__(self, errors: tuple[FieldError, ...], omitted: int = 0) -> None:
        super().__init__("; ".join(f"{e.pointer or '(whole request)'} {e.problem}" for e in errors))
        self.errors = errors
        self.omitted = omitted

    def and_also(self, more: tuple[FieldError, ...]) -> InvalidRequest:
        """The same and what else is wrong."""
        errors = (*self.errors, *more)
        omitted = self.omitted + max(0, len(errors) - MAX_ERRORS)
        return InvalidRequest(errors[:MAX_ERRORS], omitted)


class Complaints:
    """Field errors gathered so that a caller hears of all of them at once."""

    def __init__(self) -> None:
        self._kept: list[FieldError] = []
        self._total = 0

    def add(self, pointer: str, problem: str, fix: str) -> None:
        """Keep one error, or count it when enough are kept."""
        self._total += 1
        if len(self._kept) < MAX_ERRORS:
            self._kept.append(FieldError(pointer, problem, fix))

    @property
    def any(self) -> bool:
        """Whether there is anything to complain of."""
        return bool(self._kept)

    @property
    def kept(self) -> tuple[FieldError, ...]:
        """Those that are told."""
        return tuple(self._kept)

    def raise_if_any(self) -> None:
        """Raise :class:`InvalidRequest` when there is anything to complain of."""
        if self.any:
            raise InvalidRequest(self.kept, self._total - len(self._kept))


@contextmanager
def complaining() -> Iterator[Complaints]:
    """Gather complaints in a block and raise them all at its end."""
    complaints = Complaints()
    yield complaints
    complaints.raise_if_any()


class Alike:
    """What is wrong with points or times, by the fix; the same of very many is told once."""

    def __init__(self) -> None:
        self._told: list[tuple[str, str, str]] = []
        self._count: Counter[str] = Counter()

    def add(self, pointer: str, problem: str, fix: str) -> None:
        """Note one of them."""
        self._count[fix] += 1
        if self._count[fix] <= MAX_ERRORS:
            self._told.append((pointer, problem, fix))

    def tell(self, complaints: Complaints) -> None:
        """Complain of each, or once of those with the same fix where they are too many."""
        once: set[str] = set()
        for pointer, problem, fix in self._told:
            if self._count[fix] <= MAX_ERRORS:
                complaints.add(pointer, problem, fix)
            elif fix not in once:
                once.add(fix)
                others = self._count[fix] - 1
                too = "neither" if problem.startswith("is not") else "so"
                complaints.add(pointer, f"{problem}; {too} are {others:,} others", fix)


@contextmanager
def telling_alike_once(complaints: Complaints) -> Iterator[Alike]:
    """Gather what is wrong in a block and tell it at its end, the same of very many once."""
    wrong = Alike()
    yield wrong
    wrong.tell(complaints)


def json_pointer(*path: str | int) -> str:
    """JSON Pointer (RFC 6901) to a place in the request, long names shortened.

    >>> json_pointer("keypoints", 3, 7)
    '/keypoints/3/7'
    >>> json_pointer("a/b~c")
    '/a~1b~0c'
    """
    return "".join(f"/{_token(step)}" for step in path)


def _token(step: str | int) -> str:
    text = str(step)
    if len(text) > _MAX_TOKEN:
        text = text[:_MAX_TOKEN] + "…"
    return text.replace("~", "~0").replace("/", "~1")


def kind_of(value: object) -> str:
    """What a JSON value is, in words, without repeating it.

    >>> kind_of([1, 2, 3])
    'a list of 3'
    """
    match value:
        case None:
            return "null"
        case bool():
            return "true or false"
        case int() | float():
            return "a number"
        case str():
            return "a string"
        case list():
            return f"a list of {len(value)}"
        case _:
            return "an object"
