"""The commands, a file each; all load what they need when they run, as most need little of it."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from service.commands import serve, shown, work
from service.commands.analysing import analyse, marks_page
from service.commands.archives import retag, summary, tag
from service.commands.records import academies, backup, drift, keys, migrate, purge

if TYPE_CHECKING:
    Parsers = argparse._SubParsersAction[argparse.ArgumentParser]


def describe(commands: Parsers) -> None:
    """Add every command; its ``run`` takes the options and the settings.

    What can't be done it says by raising ``CannotBeDone``, ``RecordsError`` or ``ManifestError``.
    """
    for room in (serve, migrate, analyse, marks_page, shown):
        room.describe(commands)
    for room in (academies, keys, purge, backup, tag, summary, retag, work, drift):
        room.describe(commands)
