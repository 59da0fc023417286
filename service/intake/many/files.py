"""Files of swings: what they hold by their names, and their bytes unpacked as they are read."""

from __future__ import annotations

import gzip
from collections.abc import Generator, Iterator, Mapping
from contextlib import AbstractContextManager, contextmanager
from enum import StrEnum
from io import BufferedReader
from pathlib import Path, PurePosixPath
from typing import IO, Final

from service.intake.errors import TooLarge
from service.intake.many.errors import GZIP_FAULTS, EmptyFile, Unreadable, unreadable
from service.languages import sayable

GZIP_MAGIC: Final[bytes] = b"\x1f\x8b"
"""How a gzip file begins (RFC 1952, section 2.3.1)."""
_PACKED: Final[str] = ".gz"

FILMS: Final[frozenset[str]] = frozenset(
    {".3gp", ".avi", ".m4v", ".mkv", ".mov", ".mp4", ".mpg", ".mts", ".webm"}
)
"""How names of films end, which hold swings but are not read here."""

Bytes = gzip.GzipFile | BufferedReader
Opened = AbstractContextManager[Bytes]
"""A file that is opened on entering, unpacked as it is read."""


class Kind(StrEnum):
    """What a file holds."""

    JSON = "json"
    LINES = "lines"
    TABLE = "table"


_KINDS: Final = {
    ".json": Kind.JSON,
    ".ndjson": Kind.LINES,
    ".jsonl": Kind.LINES,
    ".parquet": Kind.TABLE,
}


def films_among(counts: Mapping[str, int]) -> int:
    """How many files are films, of counts by how names end.

    >>> films_among({".mp4": 2, ".txt": 5})
    2
    """
    return sum(count for end, count in counts.items() if end in FILMS)


def end_of(path: str) -> str:
    """How the name of a file ends that is not read, to be counted by.

    >>> end_of("2019/a.MOV"), end_of("LICENCE")
    ('.mov', 'without an end')
    """
    if not is_utf8(path):
        return sayable("with a name that is no UTF-8")
    return PurePosixPath(path).suffix.lower() or sayable("without an end")


def kind_of(path: str) -> Kind | None:
    """What a file holds, by its name; ``None`` where it is not read.

    >>> kind_of("2019/a.JSONL.gz"), kind_of("a.csv")
    (<Kind.LINES: 'lines'>, None)
    """
    name = path.lower()
    kind = _KINDS.get(PurePosixPath(name.removesuffix(_PACKED)).suffix)
    return None if name.endswith(_PACKED) and kind is Kind.TABLE else kind


def is_utf8(path: str) -> bool:
    """Whether a name can stand in a table or a database."""
    try:
        path.encode()
    except UnicodeEncodeError:
        return False
    return True


def unpacked(file: BufferedReader, name: str) -> Bytes:
    """An open file as it is once unpacked: gzip by its first bytes, whatever its name.

    Raises
    ------
    gzip.BadGzipFile
        When the name says gzip and the file is none.
    """
    if file.peek(len(GZIP_MAGIC)).startswith(GZIP_MAGIC):
        return gzip.GzipFile(fileobj=file)
    if name.lower().endswith(_PACKED):
        raise gzip.BadGzipFile
    return file


@contextmanager
def opened(path: Path) -> Iterator[Bytes]:
    """Open a file by its path, unpacked as it is read."""
    with path.open("rb") as file:
        yield unpacked(file, path.name)


def lines_of(
    file: Opened, longest: int, place: int = 0
) -> Generator[bytes | Unreadable, None, None]:
    """Lines as :func:`bounded_lines` gives them; where the file breaks off, why, and no more; of an
    empty file that it is.

    Parameters
    ----------
    place
        Byte at which the first line begins, once unpacked.
    """
    try:
        with file as at:
            at.seek(place)
            yield from bounded_lines(at, longest)
            if at.tell() == 0:
                raise EmptyFile
    except (OSError, Unreadable, *GZIP_FAULTS) as error:
        yield unreadable(error)


def bounded_lines(file: IO[bytes] | Bytes, longest: int) -> Iterator[bytes]:
    """The lines of a file with their newlines; of one that is too long ``longest + 1`` bytes.

    >>> from io import BytesIO
    >>> list(bounded_lines(BytesIO(b"one\\n\\nthree\\n4"), 3))
    [b'one\\n', b'\\n', b'thre', b'4']
    """
    while line := file.readline(longest + 1):
        yield line
        while not line.endswith(b"\n") and len(line) > longest:
            line = file.readline(longest + 1)  # what is left of one that is too long


def text_of(file: Opened, longest: int) -> bytes:
    """The whole of a file of one swing.

    Raises
    ------
    TooLarge
        When it holds more than ``longest`` bytes.
    Unreadable
    """
    try:
        with file as at:
            text = at.read(longest + 1)
    except (OSError, *GZIP_FAULTS) as error:
        raise unreadable(error) from error
    return within(text, longest)


def within(text: bytes, longest: int) -> bytes:
    """The text of one swing without its newline, if it is not too long.

    Raises
    ------
    TooLarge
    """
    text = text.rstrip(b"\n")
    if len(text) > longest:
        raise TooLarge(
            f"The swing's text is longer than {longest} bytes. Cut the clip to a few seconds about "
            "the swing."
        )
    return text
