"""What an item of a batch holds: the places of its swings, and the swings themselves, read."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from service.intake.many.errors import (
    MalformedTable,
    NoUtf8,
    ShutFolder,
    Unreadable,
    UnreadableFile,
)
from service.intake.many.files import Kind, is_utf8, kind_of
from service.intake.many.reading import Origin, Reader, ReadSwing, Refused, reference_in
from service.records.batches.entities import ItemKind, LeasedItem
from service.use_cases.batches.sources import tables
from service.use_cases.batches.sources.folders import Archive, is_shut
from service.use_cases.batches.sources.lines import lines_in, stood_for


@dataclass(frozen=True)
class Place:
    """Where a swing stands.

    Attributes
    ----------
    line
        Its number in the batch, from 1.
    path, path_line
        The file it stands in, and its line or row there where that has several.
    """

    line: int
    path: str | None = None
    path_line: int | None = None

    @property
    def origin(self) -> Origin:
        """The same as a reader of many swings has it."""
        return Origin(self.path or "", self.path_line)


def n_lines(item: LeasedItem) -> int:
    """How many lines of the batch an item covers, empty ones too."""
    match item.kind:
        case ItemKind.FILES:
            return len(json.loads(item.body))
        case ItemKind.ROWS:
            return int(json.loads(item.body)["count"])
        case _:
            return len(lines_in(item.body))


def places_of(item: LeasedItem) -> list[Place]:
    """The places of its swings, without reading any."""
    match item.kind:
        case ItemKind.FILES:
            paths = json.loads(item.body)
            return [Place(item.first_line + k, path) for k, path in enumerate(paths)]
        case ItemKind.ROWS:
            return [_in_file(item, k) for k in range(n_lines(item))]
        case _:
            return [_in_file(item, k) for k, _ in _full_lines(item)]


def swings_of(
    item: LeasedItem, archive: Archive | None, reader: Reader
) -> Iterator[ReadSwing | Refused]:
    """The swings at the places of :func:`places_of`, each read or refused with the reason."""
    places = places_of(item)
    match item.kind:
        case ItemKind.FILES:
            yield from (_of_file(place.origin, archive, reader) for place in places)
        case ItemKind.ROWS:
            yield from _of_rows(item, places, archive, reader)
        case _:
            for place, (_, line) in zip(places, _full_lines(item), strict=True):
                error = stood_for(line)
                if error is None:
                    yield reader.of_text(place.origin, line)
                else:
                    yield Refused(place.origin, error, reference_in(line))


def _in_file(item: LeasedItem, k: int) -> Place:
    in_file = None if item.path is None else item.first_in_file + k
    return Place(item.first_line + k, item.path, in_file)


def _full_lines(item: LeasedItem) -> Iterator[tuple[int, bytes]]:
    return ((k, line) for k, line in enumerate(lines_in(item.body)) if line.strip())


def _of_file(origin: Origin, archive: Archive | None, reader: Reader) -> ReadSwing | Refused:
    try:
        if is_shut(origin.path):
            raise ShutFolder
        if not is_utf8(origin.path) and kind_of(origin.path) is not Kind.JSON:
            raise NoUtf8
        text = _there(archive).text(origin.path, reader.longest)
    except ValueError as error:  # it is too long or can't be read
        return Refused(origin, error)
    return reader.of_text(origin, text)


def _of_rows(
    item: LeasedItem, places: Sequence[Place], archive: Archive | None, reader: Reader
) -> Iterator[ReadSwing | Refused]:
    part, done = json.loads(item.body), 0
    error: Exception = MalformedTable("has fewer rows than when it was listed")
    try:
        with tables.opened(_there(archive), item.path or "") as file:
            rows = tables.rows_of_group(file, part["group"], part["first"])
            for place, row in zip(places, rows, strict=False):
                yield reader.of_row(place.origin, row)
                done += 1
    except Unreadable as raised:
        error = raised
    for place in places[done:]:
        yield Refused(place.origin, error)


def _there(archive: Archive | None) -> Archive:
    if archive is None:
        raise UnreadableFile("can't be read, as this worker has no archive")
    return archive
