"""One swing of many, read from JSON text or from a row of a table, or refused with the reason."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Final, Protocol

from pydantic_core import to_json

from service.analysis.spelling import also_called
from service.analysis.types import Club, FloatArray, Level, Remark, SwingRecording
from service.intake.errors import FieldError, InvalidRequest, MalformedJson
from service.intake.many.errors import Failure, failure_of
from service.intake.many.files import within
from service.intake.parsing.json_reader import read_raw
from service.intake.parsing.long_json import collector_at_rest
from service.intake.parsing.plain_frames import read_swing
from service.intake.recording import Limits, recording_of_array, to_recording
from service.intake.request import FIXES, MAX_REFERENCE, SwingRequest, request_of

CLUB_LABEL: Final[str] = "club_label"
"""Name under which a club is carried as it was written, where that is none of our words."""

_CLUBS: Final = frozenset(map(str, Club))
_GAPS: Final = re.compile(r"[\s_-]+")
_SHOWN: Final[int] = 40
"""Most characters of a strange club that are told."""

_REFERENCE: Final = re.compile(rb'"client_reference"\s*:\s*("(?:[^"\\]|\\.)*")')


@dataclass(frozen=True)
class Origin:
    """Where a swing stands: a file of the archive, if it is of one, and its line or row from 1."""

    path: str
    line: int | None = None


_OF_NO_FRAME: Final = frozenset({"fps", "timestamps", "layout"})
"""Fields of a request that no pose library writes beside the points of a frame."""
_ONE_A_LINE: Final[str] = (
    "Write each request on a line of its own, without the list about them, in a file whose name "
    "ends in .ndjson."
)


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

    @property
    def reference(self) -> str | None:
        """The caller's own."""
        return self.request.client_reference


@dataclass(frozen=True)
class Refused:
    """A swing that could not be read, or not be analysed."""

    origin: Origin
    error: Exception
    reference: str | None = None

    @property
    def failure(self) -> Failure:
        """The reason, as a row of a table has it."""
        return failure_of(self.error)


class Row(Protocol):
    """What a row of a table says of a swing.

    Attributes
    ----------
    told
        The fields of a request, without its keypoints.
    carried
        What else it says, by name.
    remarks
        What was said of how the clip was read when it became a row.
    """

    @property
    def told(self) -> Mapping[str, Any]:
        """See above."""

    @property
    def carried(self) -> Mapping[str, str]:
        """See above."""

    @property
    def remarks(self) -> tuple[Remark, ...]:
        """See above."""

    def keypoints(self, layout: object) -> FloatArray:
        """Keypoints of shape (n_frames, n_points, 3); raises ``InvalidRequest``."""

    def as_lists(self, keypoints: FloatArray) -> list[Any]:
        """The same as a request has them."""


@dataclass(frozen=True)
class Reader:
    """How each of many swings is read.

    Attributes
    ----------
    longest
        Most bytes of one swing as JSON text.
    assumed
        Fields of the request, of :class:`service.intake.many.assumed.Assumed`,
        for swings that lack them.
    lenient
        Whether, as in an archive, a text may be what a pose library gave, and other members that
        are texts or numbers are carried along; otherwise it is read as a request alone is.
    with_bodies
        Whether the requests are wanted as JSON text.
    """

    limits: Limits
    longest: int
    assumed: Mapping[str, object] = field(default_factory=dict)
    lenient: bool = True
    with_bodies: bool = False

    def of_text(self, origin: Origin, text: bytes) -> ReadSwing | Refused:
        """The swing of a JSON text."""
        try:
            text = within(text, self.longest)
            if not text.strip():
                raise MalformedJson("it is empty")
            with collector_at_rest():
                raw = read_raw(text) if self.with_bodies else read_swing(text)
                told, carried = self._told_and_carried(raw) if self.lenient else (raw, {})
                told, label = _with_known_club(_with_assumed(told, self.assumed))
                request = request_of(told)
                recording = to_recording(request, self.limits)
                body = to_json(_sent(request)) if self.with_bodies else None
        except Exception as error:  # whatever it is, the other swings are not to blame
            return Refused(origin, error, reference_in(text))
        if label is not None:
            recording = _remarked(recording, label)
            carried = {CLUB_LABEL: label, **carried} if self.lenient else carried
        return _read(origin, request, recording, carried, body)

    def of_row(self, origin: Origin, row: Row) -> ReadSwing | Refused:
        """The swing of a row of a table."""
        try:
            told, label = _with_known_club(_with_assumed(row.told, self.assumed))
            request = request_of(told)
            keypoints = row.keypoints(request.layout)
            recording = recording_of_array(request, keypoints, self.limits, row.remarks)
            body = to_json(_sent(request, row.as_lists(keypoints))) if self.with_bodies else None
        except Exception as error:  # as above
            return Refused(origin, error, _short(row.told.get("client_reference")))
        carried = row.carried
        if label is not None:
            recording, carried = _remarked(recording, label), {CLUB_LABEL: label, **carried}
        return _read(origin, request, recording, carried, body)

    def _told_and_carried(self, raw: object) -> tuple[object, dict[str, str]]:
        """The fields of a request, and what else stands beside them.

        What is no request at all is what a pose library gave, as it came, where it can be: that is
        no list of nothing, unless it is known which library saw nobody. Of other members only texts
        and numbers are carried; anything else stays, so that it is refused.
        """
        fields = SwingRequest.model_fields
        if not isinstance(raw, dict | list) or (raw == [] and "format" not in self.assumed):
            return raw, {}
        if not isinstance(raw, dict) or not fields.keys() & raw.keys():
            _refuse_requests_in_a_list(raw)
            return {"keypoints": raw}, {}
        carried = {
            name: _as_text(value)
            for name, value in raw.items()
            if name not in fields and isinstance(value, str | int | float)
        }
        told = {k: v for k, v in raw.items() if k in fields or not _passes(v)}
        return told, carried


def reference_in(text: bytes) -> str | None:
    """The caller's reference in a request that may be broken; ``None`` where none can be told.

    >>> reference_in(b'{"client_reference": "a 7", "fps": 60, "keypoints": [[')
    'a 7'
    """
    found = _REFERENCE.search(text)
    try:
        return _short(json.loads(found[1])) if found else None
    except ValueError:
        return None


def _short(reference: object) -> str | None:
    fits = isinstance(reference, str) and len(reference) <= MAX_REFERENCE
    return reference if fits else None  # type: ignore[return-value]  # a text, as was just seen


def _read(
    origin: Origin,
    request: SwingRequest,
    recording: SwingRecording,
    carried: Mapping[str, str],
    body: bytes | None,
) -> ReadSwing:
    if request.keypoints is not None or request.club_points is not None:
        request = request.model_copy(update={"keypoints": None, "club_points": None})
    return ReadSwing(origin, request, recording, {**_of_folders(origin.path), **carried}, body)


def _refuse_requests_in_a_list(raw: object) -> None:
    """Tell apart what would otherwise be taken for the frames of one film."""
    if not isinstance(raw, list) or not raw or not isinstance(raw[0], Mapping):
        return
    if "keypoints" in raw[0] and not _OF_NO_FRAME.isdisjoint(raw[0]):
        problem = f"is a list of {len(raw):,} requests, and this file is one swing"
        raise InvalidRequest((FieldError("", problem, _ONE_A_LINE),))


def _passes(value: object) -> bool:
    """Whether something unknown may be carried or, being null, be left out."""
    return value is None or isinstance(value, str | int | float)


def _as_text(value: str | float | bool) -> str:
    return str(value).lower() if isinstance(value, bool) else str(value)


def _with_assumed(told: object, assumed: Mapping[str, object]) -> object:
    if not assumed or not isinstance(told, Mapping):
        return told
    lacking = {name: value for name, value in assumed.items() if told.get(name) is None}
    if told.get("timestamps") is not None:
        lacking.pop("fps", None)
    return {**told, **lacking}


def _with_known_club(told: object) -> tuple[object, str | None]:
    """What is told with the club in our words or without, and the club as it was written.

    A label is no reason to lose a swing among thousands. The same word in capitals or with other
    gaps is the club it says, and needs no label.

    >>> _with_known_club({"club": "Fairway wood"})
    ({'club': 'fairway_wood'}, None)
    >>> _with_known_club({"club": "7 iron"})
    ({'club': 'mid_iron'}, '7 iron')
    >>> _with_known_club({"fps": 60, "club": "Putter"})
    ({'fps': 60}, 'Putter')
    """
    club = told.get("club") if isinstance(told, Mapping) else None
    if not isinstance(told, Mapping) or not isinstance(club, str | int | float) or club in _CLUBS:
        return told, None
    word = _GAPS.sub("_", str(club).strip().lower())
    if word in _CLUBS:
        return {**told, "club": word}, None
    known = also_called(word, Club)
    without = {name: value for name, value in told.items() if name != "club"}
    told = without if known is None else {**without, "club": str(known)}
    return told, _as_text(club) if word else None


def _remarked(recording: SwingRecording, club: str) -> SwingRecording:
    """The recording, with a remark where its club was left out."""
    if recording.club is not None:
        return recording
    remark = Remark(
        "club_not_known",
        Level.INFO,
        f"The club {club[:_SHOWN]!r} is none that is known here; it was left out.",
        FIXES["club"],
    )
    return replace(recording, remarks=(*recording.remarks, remark))


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
