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

from service.analysis.types import SwingRecording
from service.intake.recording import Limits, to_recording
from service.intake.request import read_request

FOLDER: Final = Path(os.environ.get("SWING_REFERENCE_DIR", "../shared/reference"))
GOLF: Final = ("golf_clips", "golf_clips_2", "estimated_golf_clips")
OTHER: Final = ("other_actions", "other_actions_2", "estimated_other_actions")
_UNKNOWN_RATE: Final = 30.0
_ANY_LENGTH: Final = Limits(1, 100_000)


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


def recording(clip: dict[str, Any]) -> SwingRecording:
    """One clip as the analysis receives it."""
    return to_recording(read_request(json.dumps(request(clip)).encode()), _ANY_LENGTH)
