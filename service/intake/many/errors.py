"""What can be wrong with one of many swings, each with a code of its own.

Beside :mod:`service.intake.errors`: ``MalformedGzip``, ``MalformedTable`` and ``UnreadableFile``,
all of them ``Unreadable``.
"""

from __future__ import annotations

import gzip
import zlib
from dataclasses import dataclass
from typing import Final

from service.intake.errors import InvalidRequest, MalformedJson, TooLarge

GZIP_FAULTS: Final = (gzip.BadGzipFile, EOFError, zlib.error)
"""What the library raises where a file is no gzip or breaks off."""

_JSON_FIX: Final[str] = "Write it again, whole: a swing is one JSON object, in .ndjson one a line."


class Unreadable(ValueError):
    """A file, or part of it, can't be read; ``fix`` says what to do about it."""

    fix = "See that the service may read the file, and that it is still there."


class UnreadableFile(Unreadable):
    """The system doesn't give the file, or it is none that is read."""


class EmptyFile(UnreadableFile):
    """A file that should hold lines holds nothing."""

    fix = "Copy or export it again, or take it out."

    def __init__(self) -> None:
        super().__init__("is empty, so that there is no swing in it")


class NoUtf8(UnreadableFile):
    """The file's name can stand in no table and no database."""

    fix = "Give it a name in UTF-8."

    def __init__(self) -> None:
        super().__init__("has a name that is no UTF-8")


class ShutFolder(UnreadableFile):
    """A folder may not be listed, so that nothing in it is read."""

    fix = "Let the account that reads the archive list it, or take it out."

    def __init__(self) -> None:
        super().__init__("is a folder that may not be listed; nothing in it was read")


class MalformedGzip(Unreadable):
    """The file should be gzip but is something else, or breaks off."""

    fix = "Copy the file again, or pack it anew."


class MalformedTable(Unreadable):
    """The file should be Parquet but is something else, is damaged or lacks the columns."""

    fix = "Write the file again, with the columns that are documented."


@dataclass(frozen=True)
class Failure:
    """Why one input could not be read, as a row of a table has it.

    Attributes
    ----------
    code
        As the problems of the HTTP interface.
    pointer
        JSON Pointer (RFC 6901) to the first field that is wrong; empty for the whole.
    more
        How many further fields are wrong.
    """

    code: str
    message: str
    pointer: str = ""
    fix: str = ""
    more: int = 0


CODES: Final = (
    "invalid-request",
    "malformed-json",
    "malformed-gzip",
    "malformed-parquet",
    "body-too-large",
    "unreadable-file",
    "internal-error",
)
"""Every code that a failure may have."""


def failure_of(error: Exception) -> Failure:
    """What is told of an input that could not be read."""
    match error:
        case InvalidRequest():
            first, more = error.errors[0], len(error.errors) - 1 + error.omitted
            return Failure("invalid-request", first.problem, first.pointer, first.fix, more)
        case MalformedJson():
            return Failure("malformed-json", f"is not JSON: {error}", fix=_JSON_FIX)
        case TooLarge():
            return Failure("body-too-large", str(error))
        case Unreadable():
            return Failure(code_of(error), str(error), fix=error.fix)
        case _:
            return Failure("internal-error", f"{type(error).__name__}: {error}")


def code_of(error: Unreadable) -> str:
    """The code of a file that can't be read."""
    match error:
        case MalformedGzip():
            return "malformed-gzip"
        case MalformedTable():
            return "malformed-parquet"
        case _:
            return "unreadable-file"


def unreadable(error: Exception) -> Unreadable:
    """What the system or a library raised on reading a file, as it is told."""
    match error:
        case Unreadable():
            return error
        case gzip.BadGzipFile() | EOFError() | zlib.error():  # the first is an OSError too
            return MalformedGzip("is no gzip, or breaks off")
        case OSError():
            return UnreadableFile(f"can't be read: {error.strerror or error}")
        case _:
            return UnreadableFile(str(error))
