"""When each frame was, in the player's own time."""

from __future__ import annotations

from typing import Final

import numpy as np

from service.analysis.types import FloatArray
from service.intake.errors import Complaints, json_pointer, kind_of, telling_alike_once

MIN_FPS: Final[float] = 10.0
"""Slowest video taken, in frames a second: a downswing is then two or three frames."""

MAX_FPS: Final[float] = 1000.0
"""Fastest video taken, in frames a second."""

MIN_STEP: Final[float] = 1e-4
"""Least time from one frame to the next in seconds of video: a tenth of that between frames of
the fastest video. Frames closer than that are one frame written twice."""


def frame_times(
    n_frames: int,
    fps: float | None,
    timestamps: object,
    playback_speed: float,
    complaints: Complaints,
) -> FloatArray | None:
    """Times of the frames in seconds of the player's time from the first frame.

    Footage at ``playback_speed`` 0.25 plays four times slower than life, so a second of
    it is a quarter of a second of the player's: player's time = video time x speed.

    Parameters
    ----------
    n_frames
        Frames in the clip.
    fps
        Frames a second of the video, or ``None``.
    timestamps
        The JSON value: seconds of video time, one a frame; or ``None``.
    playback_speed
        1 for real time.
    complaints
        Told when not exactly one of the two is there, or of bad timestamps; then the
        return value is ``None``.
    """
    if not one_is_given(fps, timestamps, complaints):
        return None
    if fps is not None:
        return np.arange(n_frames) / fps * playback_speed
    video_times = _read_timestamps(timestamps, n_frames, complaints)
    return None if video_times is None else (video_times - video_times[0]) * playback_speed


def one_is_given(fps: float | None, timestamps: object, complaints: Complaints) -> bool:
    """Whether exactly one tells the time of the frames; else a complaint says so."""
    if fps is None and timestamps is None:
        complaints.add(
            "/fps", "is missing, and so is timestamps", "Send one of fps and timestamps."
        )
    elif fps is not None and timestamps is not None:
        complaints.add("/timestamps", "is sent beside fps", "Send only one of fps and timestamps.")
    return (fps is None) != (timestamps is None)


def _read_timestamps(raw: object, n_frames: int, complaints: Complaints) -> FloatArray | None:
    if not isinstance(raw, list) or len(raw) != n_frames:
        complaints.add(
            "/timestamps",
            f"is {kind_of(raw)}, not a list of {n_frames} numbers",
            "Send one time in seconds for every frame of keypoints.",
        )
        return None
    times = _numbers(raw)
    wrong = np.flatnonzero(~np.isfinite(times))
    with telling_alike_once(complaints) as alike:
        for index in wrong.tolist():
            alike.add(
                json_pointer("timestamps", index),
                "is not a finite number",
                "Send the frame's time in seconds.",
            )
    if wrong.size or not _increasing(times, complaints):
        return None
    return times if _rate_fits(times, complaints) else None


def _numbers(raw: list[object]) -> FloatArray:
    """The numbers of a list; NaN for whatever is none."""
    return np.array([_number(value) for value in raw], dtype=np.float64)


def _number(value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        return np.nan
    try:
        return float(value)
    except OverflowError:
        return np.inf


def _increasing(times: FloatArray, complaints: Complaints) -> bool:
    steps = np.diff(times)
    late = np.flatnonzero(steps < MIN_STEP)
    with telling_alike_once(complaints) as alike:
        for index in late.tolist():
            alike.add(
                json_pointer("timestamps", index + 1),
                "is not later than the timestamp before it"
                if steps[index] <= 0
                else f"is less than {1000 * MIN_STEP:g} ms later than the timestamp before it",
                "Send strictly increasing times; drop repeated frames.",
            )
    return late.size == 0


def _rate_fits(times: FloatArray, complaints: Complaints) -> bool:
    with np.errstate(over="ignore", divide="ignore"):
        rate = (len(times) - 1) / (times[-1] - times[0])
    if MIN_FPS <= rate <= MAX_FPS:
        return True
    complaints.add(
        "/timestamps",
        f"run at {rate:.3g} frames a second, outside {MIN_FPS:g} to {MAX_FPS:g}",
        "Send times in seconds of the video, not in milliseconds or frame numbers.",
    )
    return False
