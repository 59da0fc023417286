"""OpenPose's JSON, one object a frame.

Source: OpenPose documentation, "Output format": ``people``, each with ``pose_keypoints_2d``, a
flat list ``x, y, confidence`` in pixels; 25 points (BODY_25) or 18 (COCO with a neck).
"""

from __future__ import annotations

from typing import Final

from service.intake.errors import Complaints
from service.intake.formats.definition import (
    Frame,
    People,
    PoseFormat,
    Wrong,
    first_filled,
    frames_of,
    points_of_flat,
)

_SHAPE: Final[str] = (
    "a list of frames, each the object of one frame's file: {people: [{pose_keypoints_2d: [x, y, "
    "confidence, ...]}]} of 25 or 18 points."
)
_COCO_18: Final[tuple[str, ...]] = (
    "nose",
    "neck",
    *(f"right_{joint}" for joint in ("shoulder", "elbow", "wrist")),
    *(f"left_{joint}" for joint in ("shoulder", "elbow", "wrist")),
    *(f"right_{joint}" for joint in ("hip", "knee", "ankle")),
    *(f"left_{joint}" for joint in ("hip", "knee", "ankle")),
    "right_eye",
    "left_eye",
    "right_ear",
    "left_ear",
)
_LAYOUTS: Final[dict[int, str | tuple[str, ...]]] = {25: "body_25", 18: _COCO_18}


def _recognises(raw: object) -> bool:
    first = first_filled(raw)
    return isinstance(first, dict) and isinstance(first.get("people"), list)


def _read(raw: object, complaints: Complaints) -> People | None:
    frames: list[Frame] = []
    counts: set[int] = set()
    wrong = Wrong(complaints, f"Send {_SHAPE}")
    for index, frame in enumerate(frames_of(raw, complaints, _SHAPE)):
        people = _people(frame)
        if people is None:
            wrong.add(index, frame)
            continue
        counts |= {len(person) for person in people}
        frames.append(people)
    if wrong.tell():
        return None
    if len(counts) > 1:
        told = " and ".join(map(str, sorted(counts)))
        complaints.add("/keypoints", f"has people of {told} points", f"Send {_SHAPE}")
        return None
    layout = _LAYOUTS[counts.pop()] if counts else "body_25"
    return People(frames, layout, normalised=False)


def _people(frame: object) -> Frame | None:
    sent = frame.get("people") if isinstance(frame, dict) else None
    if not isinstance(sent, list):
        return None
    people = []
    for person in sent:
        flat = person.get("pose_keypoints_2d") if isinstance(person, dict) else None
        points = points_of_flat(flat) if isinstance(flat, list) else None
        if points is None or len(points) not in _LAYOUTS:
            return None
        people.append([_missing_where_zero(point) for point in points])
    return people


def _missing_where_zero(point: list[float | None] | None) -> list[float | None] | None:
    """A point that was not found is written ``0, 0, 0``."""
    return None if point is None or not any(point) else point


FORMAT: Final = PoseFormat(
    name="openpose_json",
    title="OpenPose JSON, an object a frame",
    source='OpenPose documentation, "OpenPose Doc - Output"',
    shape=_SHAPE,
    detectable=True,
    recognises=_recognises,
    read=_read,
)
