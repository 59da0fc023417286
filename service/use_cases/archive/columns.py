"""What the swings of an archive tell beside their points, before any of them is analysed."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice
from typing import Final

from service.archive.errors import NoSuchColumn
from service.archive.files.reading import Reading
from service.archive.planning.plan import Plan
from service.intake.many.reading import ReadSwing

REFERENCE: Final[str] = "client_reference"
"""Tells the player where no carried column does."""

_FILES: Final[int] = 100
_SWINGS: Final[int] = 5
"""Looked at: so many files, evenly over the archive, and of each so many swings."""


def refuse_unknown_column(plan: Plan, reading: Reading, name: str) -> None:
    """Make sure that some swing tells a column, by a look at some of every part of the archive.

    Where nothing can be read, the run tells why.

    Raises
    ------
    NoSuchColumn
        With the columns that there are.
    """
    told: set[str] = set()
    count = 0
    for swing in _some_swings(plan, reading):
        count += 1
        told.update(swing.carried)
        if swing.reference:
            told.add(REFERENCE)
        if name in told:
            return
    if count:
        there = ", ".join(sorted(told)) or "nothing of the kind"
        raise NoSuchColumn(
            f"none of the {count:,} swings looked at tells {name!r}. They tell {there}. Nothing "
            "was begun"
        )


def _some_swings(plan: Plan, reading: Reading) -> Iterator[ReadSwing]:
    for piece in plan.first_pieces(_FILES):
        for each in islice(reading.swings(piece), _SWINGS):
            if isinstance(each, ReadSwing):
                yield each
