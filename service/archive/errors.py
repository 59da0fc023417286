"""What can go wrong with an archive as a whole; ``service.intake.many.errors`` has one input's.

``ArchiveError``
    ``EmptyArchive``: there is nothing in it to tag.
    ``ChangedArchive``: it is another one than that of the results, or most of it is gone.
    ``BegunOtherwise``: the results were begun by another version or model.
    ``NoSuchColumn``: no swing tells what was asked for.
    ``ResultsInUse``: another command works in the same folder.
    ``NoResults``: the folder holds no results, or unfinished ones.
    ``Damaged``: a file of the results or of their plan can't be read any more.
    ``NotWritten``: the results could not be written; make room and run the command again.
    ``NotSeen``: a worker does not see the folders that the command sees.
    ``EngineLost``: the scheduler went away; run the command again to go on.
"""

from __future__ import annotations

import os
import socket
from pathlib import Path
from typing import Self


class ArchiveError(Exception):
    """Anything that keeps an archive from being tagged, told for whoever gave the command."""


class EmptyArchive(ArchiveError):
    """The folder holds no file that is read."""


class ChangedArchive(ArchiveError):
    """It is another one than that of the results, or most of it can't be reached."""


class BegunOtherwise(ArchiveError):
    """The results were begun by another version, model or choice of options."""


class NoSuchColumn(ArchiveError):
    """A column was named that no swing has; the message names those that there are."""


class ResultsInUse(ArchiveError):
    """Another command works in the folder of the results."""


class NoResults(ArchiveError):
    """The folder holds no results that can be read."""


class Damaged(ArchiveError):
    """A file of the results, or of their plan, is damaged or gone."""


class NotWritten(ArchiveError):
    """The folder of the results takes no more: the disk is full, say."""

    @classmethod
    def of(cls, folder: Path, error: OSError) -> Self:
        """Why a folder can't be written to, as the system has it."""
        why = os.strerror(error.errno) if error.errno else str(error)
        return cls(
            f"{folder} can't be written: {why}. What is done is kept: once it can, run the command "
            "again, and it goes on"
        )


class NotSeen(ArchiveError):
    """A worker does not see the archive, or the results as the command began them."""

    @classmethod
    def of(cls, folder: Path) -> Self:
        """Which folder it is, and on which machine."""
        return cls(
            f"a worker on {socket.gethostname()} does not see {folder} as this command does: every "
            "machine must have the same folders under the same names. What is done is kept: once "
            "it has, run the command again, and it goes on"
        )


class EngineLost(ArchiveError):
    """The scheduler or too many of its workers went away."""
