"""The swings of a piece of the archive, each read or with the reason why it can't be."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from gzip import GzipFile
from io import BufferedReader
from itertools import islice
from pathlib import Path
from typing import Any, Final

from pydantic_core import to_json

from service.analysis.types import SwingRecording
from service.archive.errors import Failure, failure_of
from service.archive.listing import GZIP_FAULTS, File, Kind, Piece, open_lines
from service.archive.table import rows_of_group
from service.intake.errors import TooLarge
from service.intake.json_reader import read_raw
from service.intake.long_json import collector_at_rest
from service.intake.recording import Limits, recording_of_array, to_recording
from service.intake.request import SwingRequest, request_of

Scalar = str | int | float | bool

_BROKEN_OFF: Final = Failure(
    "malformed-gzip", "is no gzip, or breaks off", fix="Copy the file again, or pack it anew."
)


@dataclass(frozen=True)
class Origin:
    """Where a swing stands: a file of the archive and, of several in it, its line from 1."""

    path: str
    line: int | None = None


@dataclass(frozen=True)
class ReadSwing:
    """A swing that could be read.

    Attributes
    ----------
    request
        What was sent of it; its keypoints are in ``recording``.
    carried
        What else its row or its folders say: coach, year ... by name.
    body
        The request as JSON text, where that was asked for.
    """

    origin: Origin
    request: SwingRequest
    recording: SwingRecording
    carried: Mapping[str, str]
    body: bytes | None = None


@dataclass(frozen=True)
class Refused:
    """A swing that could not be read."""

    origin: Origin
    failure: Failure
    reference: str | None = None


@dataclass(frozen=True)
class Reading:
    """How an archive is read.

    Attributes
    ----------
    assumed
        Fields of the request for swings that lack them.
    longest
        Most bytes of one swing as JSON text.
    with_bodies
        Whether the requests are wanted as JSON text.
    """

    archive: Path
    limits: Limits
    longest: int
    assumed: Mapping[str, object]
    with_bodies: bool = False

    def swings(self, piece: Piece) -> Iterator[ReadSwing | Refused]:
        """Every swing of a piece in its order."""
        match File(piece.path, 0, 0).kind:
            case Kind.TABLE:
                yield from self._of_table(piece)
            case Kind.LINES:
                yield from self._of_lines(piece)
            case _:
                yield self._of_json(piece)

    def _of_json(self, piece: Piece) -> ReadSwing | Refused:
        origin = Origin(piece.path)
        try:
            with open_lines(self.archive / piece.path) as file:
                text = file.read(self.longest + 1)
        except GZIP_FAULTS:
            return Refused(origin, _BROKEN_OFF)
        except OSError as error:
            return Refused(origin, failure_of(error))
        return self._of_text(origin, text)

    def _of_lines(self, piece: Piece) -> Iterator[ReadSwing | Refused]:
        number = piece.first
        try:
            with open_lines(self.archive / piece.path) as file:
                file.seek(piece.place)
                for text in islice(_lines(file, self.longest), piece.count):
                    number += 1
                    if text.strip():
                        yield self._of_text(Origin(piece.path, number), text)
        except (OSError, *GZIP_FAULTS) as error:
            damaged = isinstance(error, GZIP_FAULTS)
            failure = _BROKEN_OFF if damaged else failure_of(error)
            yield Refused(Origin(piece.path, number + 1), failure)

    def _of_text(self, origin: Origin, text: bytes) -> ReadSwing | Refused:
        reference = None
        try:
            if len(text) > self.longest:
                raise TooLarge(f"is longer than {self.longest} bytes")
            with collector_at_rest():
                told, carried = _told_and_carried(read_raw(text))
                reference = _reference(told)
                request = request_of(_with_assumed(told, self.assumed))
                recording = to_recording(request, self.limits)
                body = to_json(_sent(request)) if self.with_bodies else None
        except Exception as error:  # whatever it is, the other swings are not to blame
            return Refused(origin, failure_of(error), reference)
        return self._read(origin, request, recording, carried, body)

    def _of_table(self, piece: Piece) -> Iterator[ReadSwing | Refused]:
        try:
            for number, row in enumerate(rows_of_group(self.archive / piece.path, piece.place)):
                origin = row.origin or (piece.path, piece.first + number + 1)
                yield self._of_row(Origin(*origin), row)
        except Exception as error:  # a table that is damaged, in whichever way its library says
            yield Refused(
                Origin(piece.path, piece.first + 1 if piece.place >= 0 else None),
                Failure("malformed-parquet", f"can't be read: {error}"[:500]),
            )

    def _of_row(self, origin: Origin, row: Any) -> ReadSwing | Refused:
        try:
            request = request_of(_with_assumed(row.told, self.assumed))
            keypoints = row.keypoints(request.layout)
            recording = recording_of_array(request, keypoints, self.limits, row.remarks)
            body = to_json(_sent(request, row.as_lists(keypoints))) if self.with_bodies else None
        except Exception as error:  # as above
            return Refused(origin, failure_of(error), _reference(row.told))
        return self._read(origin, request, recording, row.carried, body)

    def _read(
        self,
        origin: Origin,
        request: SwingRequest,
        recording: SwingRecording,
        carried: Mapping[str, str],
        body: bytes | None,
    ) -> ReadSwing:
        bare = request.model_copy(update={"keypoints": None, "club_points": None})
        return ReadSwing(origin, bare, recording, {**_of_folders(origin.path), **carried}, body)


def _told_and_carried(raw: object) -> tuple[object, dict[str, str]]:
    """The fields of a request, and what else stands beside them.

    What is no request at all is what a pose library gave, as it came. Of other members only texts
    and numbers are carried; anything else stays, so that it is refused.
    """
    fields = SwingRequest.model_fields
    if not isinstance(raw, dict) or not fields.keys() & raw.keys():
        return {"keypoints": raw}, {}
    carried = {
        name: _as_text(value)
        for name, value in raw.items()
        if name not in fields and isinstance(value, str | int | float)
    }
    told = {k: v for k, v in raw.items() if k in fields or not _passes(v)}
    return told, carried


def _passes(value: object) -> bool:
    """Whether something unknown may be carried or, being null, be left out."""
    return value is None or isinstance(value, str | int | float)


def _as_text(value: Scalar) -> str:
    return str(value).lower() if isinstance(value, bool) else str(value)


def _with_assumed(told: object, assumed: Mapping[str, object]) -> object:
    if not assumed or not isinstance(told, dict):
        return told
    lacking = {name: value for name, value in assumed.items() if told.get(name) is None}
    if told.get("timestamps") is not None:
        lacking.pop("fps", None)
    return {**told, **lacking}


def _reference(told: object) -> str | None:
    reference = told.get("client_reference") if isinstance(told, dict) else None
    return reference if isinstance(reference, str) else None


def _sent(request: SwingRequest, keypoints: object = None) -> dict[str, object]:
    """The fields that were told, as a request has them."""
    told = {name: getattr(request, name) for name in request.model_fields_set}
    return told if keypoints is None else {**told, "keypoints": keypoints}


def _of_folders(path: str) -> dict[str, str]:
    """What the folders of a file say, as in ``coach=Ada/year=2024/swing.json``.

    >>> _of_folders("coach=Ada/2024/swing.json")
    {'coach': 'Ada'}
    """
    named = (folder.partition("=") for folder in path.split("/")[:-1])
    return {name: value for name, is_named, value in named if is_named and name}


def _lines(file: GzipFile | BufferedReader, longest: int) -> Iterator[bytes]:
    """The lines of a file; of one that is too long just enough to tell."""
    while line := file.readline(longest + 2):
        yield line.rstrip(b"\n")
        while not line.endswith(b"\n") and (line := file.readline(longest)):
            pass
