"""A film becomes a request: keypoints, times, playback speed and, where marked, the club."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np

from service.analysis.pose import layouts
from service.analysis.pose.points import both_sides
from service.analysis.pose.stature import body_height
from service.analysis.types import FloatArray, Level, Remark
from service.film import FilmError
from service.film.club.club_marks import ClubMarks, marked_club
from service.film.container import Film, Frame, frames_of, look_into
from service.film.pose_model import LAYOUT, LONGEST_SIDE, PoseModel
from service.intake.request import MAX_PLAYBACK_SPEED, MAX_REFERENCE, MIN_PLAYBACK_SPEED

_NO_STEP: Final[float] = 0.5
"""Body heights that nobody's hips go from one frame to the next."""

Progress = Callable[[Iterable[Frame], Film], Iterable[Frame]]
"""Shows how far the frames of a film have been read while handing them on."""


@dataclass(frozen=True)
class FilmTold:
    """What a person tells of a film beside the film itself.

    Attributes
    ----------
    playback_speed
        0.25 for a film that plays four times slower than life; ``None`` for what its metadata say.
    marks
        The club as it was marked by hand.
    """

    playback_speed: float | None = None
    marks: ClubMarks | None = None


@dataclass(frozen=True)
class ReadFilm:
    """A film as a request in JSON text, and what is to be said of how it was read."""

    film: Film
    body: bytes
    remarks: tuple[Remark, ...]


def read_film(
    path: Path, told: FilmTold, model: PoseModel, most_frames: int, progress: Progress
) -> ReadFilm:
    """Look at every frame of a film once, holding one at a time.

    Raises
    ------
    FilmError
        When the film can't be read, is longer than ``most_frames``, shows nobody or plays at no
        speed that a swing could be told by.
    InvalidRequest
        When the marks are not this film's.
    """
    film = look_into(path)
    speed = film.playback_speed if told.playback_speed is None else told.playback_speed
    if not MIN_PLAYBACK_SPEED <= speed <= MAX_PLAYBACK_SPEED:
        raise FilmError(
            f"would play at {speed:g} of life's speed. Give --playback-speed, from "
            f"{MIN_PLAYBACK_SPEED:g} to {MAX_PLAYBACK_SPEED:g}; 1 is real time."
        )
    landmarks, times = _landmarks(film, model, most_frames, progress)
    points, _ = layouts.to_points(
        landmarks[..., :2], np.nan_to_num(landmarks[..., 2]), layouts.resolve(LAYOUT)
    )
    club = None
    if told.marks is not None:
        club = marked_club(told.marks, (film.width, film.height), points, times * speed)
    request: dict[str, Any] = {
        "client_reference": path.name[:MAX_REFERENCE],
        "layout": LAYOUT,
        "timestamps": [round(float(time), 6) for time in times],
        "playback_speed": round(speed, 6),
        "keypoints": [_as_sent(frame) for frame in landmarks],
    }
    if club is not None:
        request["club_points"] = club.points
    remarks = [_how_read(film, len(times), speed, told), *_other_people(points)]
    if club is not None:
        remarks.append(club.remark)
    return ReadFilm(film, json.dumps(request, separators=(",", ":")).encode(), tuple(remarks))


def _landmarks(
    film: Film, model: PoseModel, most_frames: int, progress: Progress
) -> tuple[FloatArray, FloatArray]:
    """Landmarks in pixels, shape (n_frames, 33, 3), and times, shape (n_frames,)."""
    found, times = [], []
    for frame in progress(frames_of(film, LONGEST_SIDE), film):
        if frame.index >= most_frames:
            raise FilmError(
                f"has more than {most_frames} frames. Cut it to a few seconds about the swing."
            )
        found.append(model.landmarks(frame.image))
        times.append(frame.time)
    landmarks = np.array(found) * (film.width, film.height, 1.0)
    if np.isnan(landmarks).all():
        raise FilmError(
            "shows nobody in any frame. Film one player, the whole body in the picture."
        )
    return landmarks, np.array(times)


def _as_sent(landmarks: FloatArray) -> list[list[float] | None]:
    """The points of one frame as a request has them."""
    if np.isnan(landmarks).any():
        return [None] * len(landmarks)
    return [
        [round(x, 2), round(y, 2), round(min(max(sure, 0.0), 1.0), 4)]
        for x, y, sure in landmarks.tolist()
    ]


def _other_people(points: FloatArray) -> list[Remark]:
    """What to say where the model, which follows one person, goes over to another."""
    hips = points[:, np.concatenate(both_sides("hip"))].mean(axis=1)
    found = np.flatnonzero(np.isfinite(hips[:, 0]))
    steps = np.hypot(*np.diff(hips[found], axis=0).T)
    jumps = found[1:][steps > _NO_STEP * body_height(points)]
    if not len(jumps):
        return []
    return [
        Remark(
            "several_people",
            Level.WARNING,
            f"The joints jump from one place to another in frame {jumps[0]}"
            f"{f' and in {len(jumps) - 1} more' if len(jumps) > 1 else ''}: several people, or "
            "something taken for one, are in the picture.",
            "Film the player alone, or cut the film to where nobody else is seen.",
        )
    ]


def _how_read(film: Film, n_frames: int, speed: float, told: FilmTold) -> Remark:
    turned = ", turned upright," if film.turned else ""
    plays = "in real time" if speed == 1.0 else f"at {speed:.4g} of life's speed"
    if told.playback_speed is not None:
        why = "as was given"
    elif film.capture_rate is not None:
        why = f"as its metadata say that it was taken at {film.capture_rate:g} frames a second"
    else:
        why = "as far as its metadata tell"
    return Remark(
        "film_read",
        Level.INFO,
        f"A film of {film.width} by {film.height}{turned} was read: {n_frames} frames, "
        f"{film.rate:.4g} a second. It plays {plays}, {why}.",
        "Give --playback-speed if that is not so.",
    )
