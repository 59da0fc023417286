"""What a file holds now, piece by least piece, to be held against what was tagged of it."""

from __future__ import annotations

from array import array
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from service.archive.files.fingerprints import UNREAD, fingerprint, fingerprint_of_group
from service.archive.files.listing import File, Piece
from service.archive.files.reading import text_at
from service.archive.table import sizes_of_groups
from service.intake.many.errors import GZIP_FAULTS, EmptyFile, Unreadable
from service.intake.many.files import Kind, bounded_lines, opened

Numbers = npt.NDArray[np.int64]
Mask = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class Units:
    """The least pieces of a file in their order: a swing, lines that are not empty, row groups.

    Attributes
    ----------
    first, count, place, fingerprint : arrays of shape (n_units,)
        As of :class:`service.archive.files.listing.Piece` and of
        :class:`service.archive.files.reading.Input`.
    """

    path: str
    first: Numbers
    count: Numbers
    place: Numbers
    fingerprint: Numbers
    are_lines: bool

    def those_of(self, first: Numbers, seen_as: Numbers) -> Mask:
        """Which of them are what was read at their place.

        Parameters
        ----------
        first, seen_as : arrays of shape (n_inputs,)
            Places and fingerprints of inputs that were read.
        """
        if not first.size:
            return np.zeros(self.first.size, dtype=bool)
        order = np.argsort(first, kind="stable")
        first, seen_as = first[order], seen_as[order]
        at = np.minimum(np.searchsorted(first, self.first), first.size - 1)
        same = (first[at] == self.first) & (seen_as[at] == self.fingerprint)
        return np.asarray(same & (self.fingerprint != UNREAD))

    def pieces(self, chosen: Mask, most: int | None = None) -> Iterator[Piece]:
        """Some of them as pieces, neighbours together, of up to ``most`` lines.

        Lines with empty ones between them are no neighbours: those may not have been empty before.
        """
        numbers = np.flatnonzero(chosen)
        if not self.are_lines:
            for k in numbers.tolist():
                yield Piece(self.path, *(int(of[k]) for of in (self.first, self.count, self.place)))
            return
        for run in np.split(numbers, np.flatnonzero(np.diff(self.first[numbers]) > 1) + 1):
            step = most or max(1, run.size)
            for start in range(0, run.size, step):
                some = run[start : start + step]
                first, last = (int(self.first[k]) for k in (some[0], some[-1]))
                yield Piece(self.path, first, last + 1 - first, int(self.place[some[0]]))


def units_of(archive: Path, file: File, longest: int) -> Units:
    """The least pieces of a file that is read, with fingerprints.

    Parameters
    ----------
    longest
        Most bytes of one swing as JSON text, as it is read.
    """
    path = archive / file.path
    match file.kind:
        case Kind.LINES:
            return _of_lines(file.path, path, longest)
        case Kind.TABLE:
            return _of_table(file.path, path)
        case _:
            return _of_json(file.path, path, longest)


def _of_json(name: str, path: Path, longest: int) -> Units:
    try:
        seen_as = fingerprint(text_at(path, longest))
    except ValueError:  # it is too long or can't be read: tagging tells why
        seen_as = UNREAD
    return _units(name, [0], [1], [0], [seen_as])


def _of_table(name: str, path: Path) -> Units:
    try:
        sizes = sizes_of_groups(path)
    except (OSError, pa.ArrowException):
        return _units(name, [0], [1], [-1], [UNREAD])
    groups = [group for group, size in enumerate(sizes) if size]
    before = [0, *accumulate(sizes)]
    return _units(
        name,
        [before[group] for group in groups],
        [sizes[group] for group in groups],
        groups,
        [fingerprint_of_group(path, group) for group in groups],
    )


def _of_lines(name: str, path: Path, longest: int) -> Units:
    first, place, seen_as = array("q"), array("q"), array("q")
    number, end = -1, 0
    try:
        with opened(path) as file:
            for number, line in enumerate(bounded_lines(file, longest)):
                end = file.tell()
                if line.strip():
                    first.append(number)
                    place.append(end - len(line))
                    seen_as.append(fingerprint(line.rstrip(b"\n")))
        if not end:
            raise EmptyFile
    except (OSError, Unreadable, *GZIP_FAULTS):  # one more line, which tells so when it is read
        first.append(number + 1)
        place.append(end)
        seen_as.append(UNREAD)
    return _units(name, first, [1] * len(first), place, seen_as, are_lines=True)


def _units(name: str, *columns: Sequence[int], are_lines: bool = False) -> Units:
    first, count, place, seen_as = (np.array(column, dtype=np.int64) for column in columns)
    return Units(name, first, count, place, seen_as, are_lines)
