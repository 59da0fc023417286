"""The reference clips as requests, whatever file they come from.

The clips are research data: they stay outside the project and are found through
``SWING_REFERENCE_DIR``. Sources, as their folder's README gives them:

* ``golf_clips``, ``other_actions``: joint annotations of J-HMDB (Jhuang, Gall, Zuffi, Schmid and
  Black, "Towards understanding action recognition", ICCV 2013);
* ``golf_clips_2``, ``other_actions_2``: joint annotations of Penn Action (Zhang, Zhu and Derpanis,
  "From Actemes to Action", ICCV 2013), frame rate unknown and taken to be 30;
* ``estimated_golf_clips``, ``estimated_other_actions``: the videos of the first source through an
  open pose estimator.
"""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any, Final

import numpy as np

from service.analysis.pose.layouts import resolve, to_points
from service.analysis.types import SwingRecording, View

FOLDER: Final = Path(os.environ.get("SWING_REFERENCE_DIR", "../shared/reference"))
GOLF: Final = ("golf_clips", "golf_clips_2", "estimated_golf_clips")
OTHER: Final = ("other_actions", "other_actions_2", "estimated_other_actions")
EVENTS: Final = {"golf_clips": "golf_events", "golf_clips_2": "golf_events_2"}
"""Which file holds the windows of top and impact of which clips."""
BATS: Final = ("baseball_swing", "swing_baseball")
"""Actions that swing a bat."""
FACE_ON: Final = {f"golf-{n:02d}" for n in (0, 1, 9, 19, 22, 28, 29)}
"""Clips of the first source filmed face-on, by eye from drawings of the stick figures; the others
are filmed down the line."""
_UNKNOWN_RATE: Final = 30.0


def read(name: str) -> list[dict[str, Any]]:
    """The rows of one newline-separated JSON file."""
    text = (FOLDER / f"{name}.ndjson").read_text(encoding="utf-8")
    return [json.loads(line) for line in text.splitlines() if line]


def request(clip: dict[str, Any]) -> dict[str, Any]:
    """One clip as the service would be sent it."""
    return {
        "keypoints": clip["frames"],
        "layout": clip.get("layout") or clip["joint_names"],
        "fps": clip.get("fps", _UNKNOWN_RATE),
        "client_reference": clip["id"],
    }


def events_of(name: str) -> dict[str, dict[str, Any]]:
    """The windows of top and impact of a file's clips, by their id; none where none are known."""
    return {event["id"]: event for event in read(EVENTS[name])} if name in EVENTS else {}


def available() -> bool:
    """Whether every file is there."""
    names = (*GOLF, *OTHER, *EVENTS.values())
    return all((FOLDER / f"{name}.ndjson").is_file() for name in names)


def action_of(name: str, clip: dict[str, Any]) -> str:
    """What a clip shows: ``golf``, ``walk`` and so on."""
    return "golf" if name in GOLF else str(clip.get("action") or clip["id"].rsplit("-", 1)[0])


def view_of(name: str, clip: dict[str, Any]) -> View | None:
    """From where a golf clip was filmed; ``None`` where it isn't known or neither of the two.

    Of the second source it is the guess of the file, right for most clips.
    """
    if name == "golf_clips_2":
        return None if clip["view_guess"] == "other" else View(clip["view_guess"])
    if not clip.get("same_clip_as_annotated", True):
        return None
    return View.FACE_ON if clip["id"] in FACE_ON else View.DOWN_THE_LINE


def recording(clip: dict[str, Any]) -> SwingRecording:
    """One clip as the analysis receives it, past the door, which refuses a body that lies."""
    frames = [[point or (np.nan, np.nan) for point in frame] for frame in clip["frames"]]
    values = np.array([[(*p, 1.0)[:3] for p in frame] for frame in frames], dtype=np.float64)
    joints = resolve(clip.get("layout") or clip["joint_names"])
    points, confidence = to_points(values[..., :2], values[..., 2], joints)
    times = np.arange(len(values)) / clip.get("fps", _UNKNOWN_RATE)
    return SwingRecording(points, np.where(np.isnan(points[..., 0]), 0.0, confidence), times)
