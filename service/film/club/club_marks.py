"""Club points marked by hand: the file that holds them, and the tracks they become."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Final

import numpy as np
from pydantic import BaseModel, ConfigDict, Field

from service.analysis.pose.keypoint_error import confidence_of, sure_error
from service.analysis.pose.points import both_sides
from service.analysis.pose.repairs.smoothing import LONGEST_GAP
from service.analysis.pose.stature import body_height
from service.analysis.types import BoolArray, FloatArray, Level, Remark
from service.film.club.club_path import Frames, Track, clubhead_track, grip_track
from service.intake.errors import complaining, json_pointer
from service.intake.parsing.json_reader import read_model
from service.intake.request import ImageSize

_MOST_MARKS: Final[int] = 5000
_MOST_TOLD: Final[int] = 8
_WHOLE_FIX: Final[str] = (
    "Send the file that `python -m service marks-page FILM` lets a coach save: one object with "
    "image_size and marks, each with its frame and grip, clubhead or both as [x, y]."
)
_FIXES: Final[dict[str, str]] = {
    "image_size": "Send {width, height} of the pictures in which the club was marked.",
    "marks": "Send a list of objects, each with its frame, and grip, clubhead or both as [x, y].",
    "film": "Send the film's name, or leave it out.",
}
_TRACKS: Final = {"grip": grip_track, "clubhead": clubhead_track}

_Coordinate = Annotated[float, Field(allow_inf_nan=False, ge=-100_000, le=100_000)]


class Mark(BaseModel):
    """The club on one frame: points in pixels of the marked pictures, y down."""

    model_config = ConfigDict(extra="forbid")

    frame: int = Field(ge=0, strict=True)
    grip: tuple[_Coordinate, _Coordinate] | None = None
    clubhead: tuple[_Coordinate, _Coordinate] | None = None


class ClubMarks(BaseModel):
    """What was marked on a film, and how large its pictures were."""

    model_config = ConfigDict(extra="forbid")

    film: str | None = Field(default=None, max_length=1000)
    image_size: ImageSize
    marks: list[Mark] = Field(min_length=1, max_length=_MOST_MARKS)


@dataclass(frozen=True)
class MarkedClub:
    """Club points as a request has them, one entry a frame, and what is to be said of them."""

    points: dict[str, list[list[float] | None]]
    remark: Remark


def read_marks(body: bytes) -> ClubMarks:
    """Read a file of marks.

    Raises
    ------
    MalformedJson, InvalidRequest
        When it can't be read (see :mod:`service.intake.errors`).
    """
    marks = read_model(body, ClubMarks, _FIXES, _WHOLE_FIX)
    seen: set[int] = set()
    with complaining() as complaints:
        for index, mark in enumerate(marks.marks):
            if mark.frame in seen:
                complaints.add(
                    json_pointer("marks", index, "frame"),
                    "is marked twice",
                    "Send one mark a frame, with grip and clubhead.",
                )
            seen.add(mark.frame)
    return marks


def marked_club(
    marks: ClubMarks, size: tuple[int, int], points: FloatArray, times: FloatArray
) -> MarkedClub:
    """The club over the whole film.

    Parameters
    ----------
    size
        Width and height of the film in pixels.
    points : array of shape (n_frames, n_points, 2)
        The player in pixels, in the order of :data:`service.analysis.pose.points.ANATOMICAL`.
    times : array of shape (n_frames,)
        Seconds of the player's time.

    Returns
    -------
    MarkedClub
        The confidence of each point is the one from which the analysis reads its error. Points
        whose error is beyond that are missing, and so are their neighbours where the analysis
        would bridge the gap.

    Raises
    ------
    InvalidRequest
        When a mark lies beyond the film's last frame or the pictures have another shape.
    """
    _refuse_other_film(marks, size, len(times))
    unit = np.array([size[0] / marks.image_size.width, size[1] / marks.image_size.height])
    height = body_height(points)
    left, right = both_sides("wrist")
    hands = points[:, [left[0], right[0]]].mean(axis=1)
    tracks, lost = {}, np.zeros(len(times), dtype=bool)
    for name, interpolate in _TRACKS.items():
        frames, places = _marks_of(marks, name)
        if len(frames):
            tap = sure_error(name) * height
            track = interpolate(frames, places * unit, hands, times, tap)
            confidence = _without_bridges(confidence_of(name, track.error / height), times)
            lost[frames[0] : frames[-1]] |= np.isnan(confidence[frames[0] : frames[-1]])
            tracks[name] = _as_sent(track, confidence)
    return MarkedClub(tracks, _remark(len(marks.marks), lost))


def _refuse_other_film(marks: ClubMarks, size: tuple[int, int], n_frames: int) -> None:
    marked = marks.image_size
    with complaining() as complaints:
        if abs(marked.width / marked.height / (size[0] / size[1]) - 1.0) > 0.02:
            complaints.add(
                "/image_size",
                f"is {marked.width:g} by {marked.height:g}, another shape than the film's "
                f"{size[0]} by {size[1]}",
                "Send the marks that were made on this film.",
            )
        for index, mark in enumerate(marks.marks):
            if mark.frame >= n_frames:
                complaints.add(
                    json_pointer("marks", index, "frame"),
                    f"is {mark.frame}, and the film has {n_frames} frames",
                    "Send the marks that were made on this film; its first frame is 0.",
                )


def _marks_of(marks: ClubMarks, name: str) -> tuple[Frames, FloatArray]:
    """Frames on which a point was marked, in order, and where."""
    found = {m.frame: getattr(m, name) for m in marks.marks if getattr(m, name) is not None}
    frames = sorted(found)
    places = np.array([found[f] for f in frames], dtype=np.float64).reshape(-1, 2)
    return np.array(frames, dtype=np.intp), places


def _without_bridges(confidence: FloatArray, times: FloatArray) -> FloatArray:
    """Confidence with gaps so wide that the analysis does not bridge them with a path of its own.

    A hole of a few frames is left where the club's way can't be told; what the analysis would lay
    across it would be a guess all the same.
    """
    told = confidence.copy()
    while True:
        known = np.flatnonzero(np.isfinite(told))
        steps = np.diff(known)
        narrow = (steps > 1) & (np.diff(times[known]) <= LONGEST_GAP + 1e-6)
        if not narrow.any():
            return told
        told[known[:-1][narrow]] = np.nan
        told[known[1:][narrow]] = np.nan


def _as_sent(track: Track, confidence: FloatArray) -> list[list[float] | None]:
    return [
        None if np.isnan(sure) else [round(float(x), 2), round(float(y), 2), round(float(sure), 4)]
        for (x, y), sure in zip(track.points, confidence, strict=True)
    ]


def _remark(n_marks: int, lost: BoolArray) -> Remark:
    text = f"The club was marked by hand on {n_marks} frames and interpolated between them."
    if not lost.any():
        return Remark("club_marked", Level.INFO, text, "Nothing to change.")
    edges = np.flatnonzero(np.diff(np.concatenate([[0], lost.astype(np.int8), [0]])))
    holes = [f"{a} to {b - 1}" for a, b in zip(edges[::2], edges[1::2], strict=True)]
    return Remark(
        "club_marked",
        Level.WARNING,
        f"{text} In frames {_listed(holes)} the marks are too far apart to tell its way; there it "
        "is left out.",
        "Mark more of those frames, every one where the club is fast.",
    )


def _listed(holes: list[str]) -> str:
    told = ", ".join(holes[:_MOST_TOLD])
    more = len(holes) - _MOST_TOLD
    return f"{told} and {more} more stretches" if more > 0 else told
