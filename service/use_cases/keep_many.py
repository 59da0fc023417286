"""Many swings kept one after the other, each for itself."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import IO, Final, Generic, TypeVar

from service.intake.errors import TooLarge
from service.intake.many.files import bounded_lines, within

Kept = TypeVar("Kept")

MOST_LINES: Final[int] = 10_000
"""Lines read of one batch, empty ones too: each takes some time, even if it holds nothing."""

MOST_REFUSED: Final[int] = 1000
"""Lines refused of one batch: with so many, it is the batch that is wrong."""

_TOO_MANY: Final = TooLarge(
    f"A batch may have {MOST_LINES} lines, and {MOST_REFUSED} that are refused; from here on "
    "nothing was kept. Send the rest in another."
)


@dataclass(frozen=True)
class KeptLine(Generic[Kept]):
    """What became of one line: the swing that is kept, or why none is."""

    number: int
    swing: Kept | None = None
    error: Exception | None = None


def keep_lines(
    file: IO[bytes], longest: int, keep: Callable[[int, bytes], Kept]
) -> Iterator[KeptLine[Kept]]:
    """Keep the swing in each line that is not empty; lines count from 1, empty ones too.

    After :data:`MOST_LINES` lines, or :data:`MOST_REFUSED` refused ones, the rest is refused in one
    answer.

    Parameters
    ----------
    file
        Requests as JSON text, one a line.
    longest
        Most bytes a line may have.
    keep
        Keeps one request, given its line's number too.
    """
    refused = 0
    for number, line in enumerate(bounded_lines(file, longest), start=1):
        if number > MOST_LINES or refused >= MOST_REFUSED:
            yield KeptLine(number, error=_TOO_MANY)
            return
        if not line.strip():
            continue
        kept = _keep(number, line, longest, keep)
        refused += kept.error is not None
        yield kept


def _keep(
    number: int, line: bytes, longest: int, keep: Callable[[int, bytes], Kept]
) -> KeptLine[Kept]:
    try:
        return KeptLine(number, swing=keep(number, within(line, longest)))
    except Exception as error:  # whatever it is, the lines that follow are not to blame
        return KeptLine(number, error=error)
