"""Commands for whoever runs the service: who may use it, what becomes of what is kept, archives."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Final

from service.commands import academies, backup, drift, keys, purge, retag, summary, tag, work
from service.settings import Settings

if TYPE_CHECKING:
    Parsers = argparse._SubParsersAction[argparse.ArgumentParser]

_ROOMS: Final = {
    "academies": academies.run,
    "keys": keys.run,
    "purge": purge.run,
    "backup": backup.run_backup,
    "restore": backup.run_restore,
    "tag": tag.run,
    "summary": summary.run,
    "retag": retag.run,
    "work": work.run,
    "drift": drift.run,
}


def describe(commands: Parsers) -> None:
    """Add these commands to those of the command line."""
    for room in (academies, keys, purge, backup, tag, summary, retag, work, drift):
        room.describe(commands)


def knows(command: str) -> bool:
    """Whether a command is one of these."""
    return command in _ROOMS


def run(options: argparse.Namespace, settings: Settings) -> None:
    """Run one of them, which prints what it has to say.

    Raises
    ------
    RecordsError
        When it can't be done, in words for whoever gave the command.
    """
    _ROOMS[options.command](options, settings)
