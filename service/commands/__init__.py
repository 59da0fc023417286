"""Commands for whoever runs the service."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Final

from service.commands import retag, summary, tag
from service.settings import Settings

if TYPE_CHECKING:
    Parsers = argparse._SubParsersAction[argparse.ArgumentParser]

_ROOMS: Final = {"tag": tag.run, "summary": summary.run, "retag": retag.run}


def describe(commands: Parsers) -> None:
    """Add these commands to those of the command line."""
    for room in (tag, summary, retag):
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
