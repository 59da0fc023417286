"""From a request to the recording that the analysis takes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from service.analysis.pose import layouts
from service.analysis.pose.points import ANATOMICAL, CLUB_POINTS
from service.analysis.spelling import did_you_mean
from service.analysis.types import FloatArray, Intent, Remark, SwingRecording
from service.intake.errors import (
    MAX_ERRORS,
    Complaints,
    InvalidRequest,
    complaining,
    json_pointer,
    kind_of,
)
from service.intake.frame_times import frame_times, one_is_given
from service.intake.keypoints import (
    MAX_COORDINATE,
    MAX_NORMALISED,
    SentPoints,
    read_club_point,
    read_keypoints,
    without_placeholders,
)
from service.intake.parsing.long_json import collector_at_rest
from service.intake.parsing.plain_frames import as_lists
from service.intake.plausibility import (
    refuse_mixed_units,
    refuse_unit_square,
    refuse_wrong_axes,
)
from service.intake.read_as import Sent, read_as
from service.intake.request import (
    MAX_COLUMNS,
    MAX_NAME,
    Coordinates,
    SwingRequest,
    read_request,
)

_LAYOUT_FIX: Final[str] = (
    f"Send the name of a layout ({', '.join(layouts.LAYOUTS)}) or a list with one point name "
    "or null for every column."
)
_COLUMN_FIX: Final[str] = f"Send null for a column to ignore, or one of {', '.join(ANATOMICAL)}."
_CLUB_FIX: Final[str] = f"Send any of {', '.join(CLUB_POINTS)}."


@dataclass(frozen=True)
class Limits:
    """How short and how long a clip may be, in frames."""

    min_frames: int
    max_frames: int


ANY_LENGTH: Final = Limits(min_frames=1, max_frames=100_000)
"""For clips of our own and those that were taken once: their length is not for us to refuse."""


@collector_at_rest()
def read_clip(
    body: bytes, limits: Limits, unless_told: Intent = Intent.FULL_SPEED
) -> tuple[SwingRecording, str | None]:
    """Read a request given as JSON text: its recording and the caller's reference.

    What was read on the way is let go before this returns. ``unless_told`` is the intent of a
    swing whose request names none.

    Raises
    ------
    TooLarge, MalformedJson, InvalidRequest
        When the request can't be read (see :mod:`service.intake.errors`).
    """
    request = read_request(body)
    recording = to_recording(request, limits)
    if "intent" not in request.model_fields_set:
        recording = replace(recording, intent=unless_told)
    return recording, request.client_reference


def to_recording(request: SwingRequest, limits: Limits) -> SwingRecording:
    """Read the raw fields of a request and put them in the order of the analysis.

    Raises
    ------
    InvalidRequest
        With a pointer to everything that is wrong.
    """
    keypoints = request.keypoints
    if isinstance(keypoints, np.ndarray):
        if request.format is None and request.layout is not None:
            try:
                return recording_of_array(request, keypoints, limits)
            except InvalidRequest:
                pass  # told of the frames as they were sent, below
        request = request.model_copy(update={"keypoints": as_lists(keypoints)})
    return _recorded(request, read_as(request), limits)


def recording_of_array(
    request: SwingRequest, keypoints: FloatArray, limits: Limits, remarks: tuple[Remark, ...] = ()
) -> SwingRecording:
    """The same from keypoints that are an array already, as a column of a table has them.

    Parameters
    ----------
    request
        Everything else; its ``keypoints`` are not looked at.
    keypoints : array of shape (n_frames, n_columns, 3)
        x, y and confidence in the order of the request's layout; a point is missing where x or y
        is NaN, and a confidence was not sent where it is.
    remarks
        What was to be said of how the clip was read when it became a table.

    Raises
    ------
    InvalidRequest
        With a pointer to everything that is wrong.
    """
    normalised = request.coordinates is Coordinates.NORMALISED
    return _recorded(request, Sent(keypoints, request.layout, normalised, remarks), limits)


def _recorded(request: SwingRequest, sent: Sent, limits: Limits) -> SwingRecording:
    with complaining() as complaints:
        size = _image_size(request, sent, complaints)
        joints = _joints(sent.layout, complaints)
        frames = _frames(sent.keypoints, limits, complaints)
        if complaints.any:  # what stands below is told with it, not after it is mended
            one_is_given(request.fps, request.timestamps, complaints)
    with complaining() as complaints:
        n_frames = len(frames)
        times = frame_times(
            n_frames, request.fps, request.timestamps, request.playback_speed, complaints
        )
        limit = MAX_NORMALISED if sent.normalised else MAX_COORDINATE
        body = read_keypoints(frames, len(joints), limit, complaints)
        club = _club_tracks(request.club_points, joints, n_frames, limit, complaints)
        if body is not None:
            _refuse_all_zero(body, complaints)
            if not sent.normalised:
                refuse_unit_square(body.values, complaints)
        if body is not None and not complaints.any:
            tracks = {name: track.values for name, track in club.items()}
            refuse_mixed_units(body.values, tracks, complaints)
    assert times is not None  # a reader that gives None has complained
    assert body is not None
    points, confidence = _in_point_order(body, joints, club)
    if sent.normalised:
        points = points * size
    with complaining() as complaints:
        refuse_wrong_axes(points, sent.turned, complaints)
    return SwingRecording(
        points=points,
        confidence=confidence,
        times=times,
        view=request.view,
        handedness=request.handedness,
        intent=request.intent,
        club=request.club,
        remarks=sent.remarks,
        stop_at=request.asked.stop_at if request.asked else None,
    )


def _image_size(request: SwingRequest, sent: Sent, complaints: Complaints) -> FloatArray:
    """What one unit of x and y is in pixels."""
    if not sent.normalised:
        return np.ones(2)
    size = request.image_size
    if size is None:
        complaints.add(
            "/image_size",
            "is missing, and normalised coordinates hide the aspect ratio",
            "Send image_size with the video's width and height, or send pixels.",
        )
        return np.ones(2)
    return np.array([size.width, size.height])


def _joints(layout: object, complaints: Complaints) -> tuple[str | None, ...]:
    if not _is_layout(layout, complaints):
        return ()
    try:
        return layouts.resolve(layout)  # type: ignore[arg-type]  # checked just above
    except layouts.LayoutError as error:
        problem = f"can't be used: {error}"
        if error.index is None:
            complaints.add("/layout", problem, _LAYOUT_FIX)
        else:
            complaints.add(json_pointer("layout", error.index), problem, _COLUMN_FIX)
        return ()


def _is_layout(layout: object, complaints: Complaints) -> bool:
    """Whether the layout is a short name or a short list of short names and nulls."""
    if isinstance(layout, list) and 1 <= len(layout) <= MAX_COLUMNS:
        wrong = [i for i, name in enumerate(layout) if name is not None and not _is_name(name)]
        for index in wrong:
            complaints.add(
                json_pointer("layout", index), "is neither a point name nor null", _COLUMN_FIX
            )
        return not wrong
    if _is_name(layout):
        return True
    complaints.add("/layout", f"is {kind_of(layout)}, not a layout", _LAYOUT_FIX)
    return False


def _is_name(value: object) -> bool:
    return isinstance(value, str) and len(value) <= MAX_NAME


def _frames(keypoints: object, limits: Limits, complaints: Complaints) -> list[object] | FloatArray:
    if not isinstance(keypoints, list | np.ndarray):
        complaints.add(
            "/keypoints",
            f"is {kind_of(keypoints)}, not a list of frames",
            "Send a list of frames, each a list of points.",
        )
        return []
    if len(keypoints) < limits.min_frames:
        complaints.add(
            "/keypoints",
            f"has {_count(len(keypoints))}, fewer than {limits.min_frames}",
            "Send the whole swing, from before the takeaway to the finish.",
        )
    if len(keypoints) > limits.max_frames:
        complaints.add(
            "/keypoints",
            f"has {_count(len(keypoints))}, more than {limits.max_frames}",
            "Cut the clip to a few seconds about the swing.",
        )
    return keypoints


def _count(frames: int) -> str:
    return "1 frame" if frames == 1 else f"{frames:,} frames"


def _club_tracks(
    raw: object,
    joints: Sequence[str | None],
    n_frames: int,
    limit: float,
    complaints: Complaints,
) -> dict[str, SentPoints]:
    if raw is None:
        return {}
    if not isinstance(raw, dict):
        complaints.add(
            "/club_points",
            f"is {kind_of(raw)}, not an object",
            f"{_CLUB_FIX.removesuffix('.')}, each a list of points, in an object.",
        )
        return {}
    _refuse_club_names(raw, joints, complaints)
    tracks = {
        name: read_club_point(raw[name], name, n_frames, limit, complaints)
        for name in CLUB_POINTS
        if raw.get(name) is not None
    }
    return {name: track for name, track in tracks.items() if track is not None}


def _refuse_club_names(
    raw: Mapping[str, object], joints: Sequence[str | None], complaints: Complaints
) -> None:
    unknown = [name for name in raw if name not in CLUB_POINTS]
    for index, name in enumerate(unknown):
        meant = did_you_mean(name, CLUB_POINTS) if index < MAX_ERRORS else ""  # others are counted
        complaints.add(
            json_pointer("club_points", name), f"is not a point of the club{meant}", _CLUB_FIX
        )
    for name in CLUB_POINTS:
        if name in raw and name in joints:
            complaints.add(
                json_pointer("club_points", name),
                "is a column of the layout too",
                "Send it once, in keypoints or in club_points.",
            )


def _refuse_all_zero(body: SentPoints, complaints: Complaints) -> None:
    zero = body.are_zero
    if zero.any() and (zero | np.isnan(body.values[..., 0])).all():
        complaints.add(
            "/keypoints",
            "has every point at (0, 0)",
            "Send what the pose estimator found, with null for a missing point; an estimator "
            "that found no person in any frame has nothing to analyse.",
        )


def _in_point_order(
    body: SentPoints, joints: Sequence[str | None], club: Mapping[str, SentPoints]
) -> tuple[FloatArray, FloatArray]:
    """Points of shape (n_frames, n_points, 2) and their confidence, as sent otherwise."""
    body = without_placeholders(body)
    points, confidence = layouts.to_points(body.values, _filled(body), joints)
    for name, sent in club.items():
        track = without_placeholders(sent)
        index = ANATOMICAL.index(name)
        points[:, index] = track.values[:, 0]
        confidence[:, index] = _filled(track)[:, 0]
    return points, confidence


def _filled(tracks: SentPoints) -> FloatArray:
    """Confidence of shape (n_frames, n_columns): 1 where none was sent, 0 where missing."""
    sent = np.where(np.isnan(tracks.confidence), 1.0, tracks.confidence)
    return np.where(np.isnan(tracks.values[..., 0]), 0.0, sent)
