"""What can go wrong with the records.

``RecordsError``
    ``RecordNotFound``: nothing has this id.
    ``StaleVersion``: the record was changed since it was read.
        ``ChangedSince``: it tells something else than it did.
    ``MissingVersion``: a change does not say which version of the record it was made for.
    ``KeyReused``: the key of a request was used for another one.
    ``RecordsUnavailable``: the database can't be reached, is busy or lacks its tables.
        ``PerhapsWritten``: it failed while it confirmed a change.
        ``KeyTaken``: another request with the key was faster.
    ``ConsentMissing``: nobody consented to keeping a player's data.
    ``NameTaken``: something else has this name.
    ``BackupFailed``: a backup could not be written or read.
    ``ForeignDatabase``: its tables are not those of this version.
    ``BadDatabaseUrl``: no database can be told from the URL.
"""

from __future__ import annotations

from collections.abc import Collection


class RecordsError(Exception):
    """Anything that goes wrong with the records."""


class RecordNotFound(RecordsError):
    """Nothing has this id, or no longer.

    Of many asked for at once ``missing`` are those; ``at`` says where they were asked for.
    """

    def __init__(self, kind: str, missing: Collection[str] = (), at: str = "") -> None:
        super().__init__(f"There is no such {kind}{at and f': {at}'}.")
        self.missing = frozenset(missing)


class StaleVersion(RecordsError):
    """The record is no longer at the version that the change was made for, ``None`` if gone."""

    def __init__(self, kind: str, version: int | None) -> None:
        told = f"There is no {kind}" if version is None else f"The {kind} is at version {version}"
        super().__init__(f"{told} by now.")


class ChangedSince(StaleVersion):
    """What was read, told by a fingerprint, is not what is there by now."""

    def __init__(self, kind: str) -> None:
        Exception.__init__(self, f"The {kind} tells something else by now than when you read it.")


class MissingVersion(RecordsError):
    """There is a record already, and the change does not say which version it was made for."""

    def __init__(self, kind: str, version: int) -> None:
        super().__init__(f"There is a {kind} already, at version {version}.")


class RecordsUnavailable(RecordsError):
    """The database can't be reached, is busy or lacks its tables; told in its own words."""


class PerhapsWritten(RecordsUnavailable):
    """The database failed while it confirmed a change, which may have been made all the same."""


class KeyReused(RecordsError):
    """The key of a request was used for another one."""


class KeyTaken(RecordsUnavailable):
    """Another request with the key was faster; what this one made is not kept."""


class ConsentMissing(RecordsError):
    """Nobody consented to keeping a player's data, or only a minor."""


class NameTaken(RecordsError):
    """Something else has this name."""


class BackupFailed(RecordsError):
    """A backup could not be written or read."""


class ForeignDatabase(RecordsError):
    """The tables of the database are those of another version or another program."""


class BadDatabaseUrl(RecordsError):
    """The URL of the database can't be read."""
