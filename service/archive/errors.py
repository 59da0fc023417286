"""What can go wrong with an archive as a whole, and with one input of it.

``ArchiveError``
    ``EmptyArchive``: there is nothing in it to tag.
    ``ChangedArchive``: it is not what it was when the results were begun.
    ``OtherMaker``: the results were begun by another version or model.
    ``ResultsInUse``: another command works in the same folder.
    ``NoResults``: the folder holds no results, or unfinished ones.
    ``EngineLost``: the scheduler went away; run the command again to go on.
"""

from __future__ import annotations

from dataclasses import dataclass

from service.intake.errors import InvalidRequest, MalformedJson, TooLarge


class ArchiveError(Exception):
    """Anything that keeps an archive from being tagged, told for whoever gave the command."""


class EmptyArchive(ArchiveError):
    """The folder holds no file that is read."""


class ChangedArchive(ArchiveError):
    """Files were added, taken away or changed since the results were begun."""


class OtherMaker(ArchiveError):
    """The results were begun by another version, model or choice of options."""


class ResultsInUse(ArchiveError):
    """Another command works in the folder of the results."""


class NoResults(ArchiveError):
    """The folder holds no results that can be read."""


class EngineLost(ArchiveError):
    """The scheduler or too many of its workers went away."""


@dataclass(frozen=True)
class Failure:
    """Why one input could not be read.

    Attributes
    ----------
    code
        As the problems of the HTTP interface, or one of the codes below.
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


CODES = (
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
            return Failure("malformed-json", f"is not JSON: {error}")
        case TooLarge():
            return Failure("body-too-large", str(error))
        case OSError():
            return Failure("unreadable-file", error.strerror or str(error))
        case _:
            return Failure("internal-error", f"{type(error).__name__}: {error}")
