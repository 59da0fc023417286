"""A dictionary of named joints a frame with y upwards, as phone vision frameworks give.

Source: Apple developer documentation, Vision: ``VNRecognizedPoint`` has x and y as fractions of
the image from its lower left corner, and a confidence; the joints of
``VNHumanBodyPoseObservation.JointName`` have names of their own (raw values from memory).
"""

from __future__ import annotations

import re
from typing import Final

from service.analysis.pose.layouts import LayoutError, resolve
from service.intake.errors import Complaints
from service.intake.formats.definition import (
    Frame,
    People,
    Person,
    Point,
    PoseFormat,
    Wrong,
    first_filled,
    frames_of,
    number,
    point_of_object,
    share,
)

_SHAPE: Final[str] = (
    "a list of frames, each an object from joint names to [x, y, confidence] or {x, y, "
    "confidence}, x and y being fractions of the image from its lower left corner."
)
_OTHER_NAMES: Final[dict[str, str]] = {
    "head_joint": "nose",
    "neck_1_joint": "neck",
    "root": "mid_hip",
    **{
        f"{side}_{raw}": f"{side}_{joint}"
        for side in ("left", "right")
        for raw, joint in {
            "eye_joint": "eye",
            "ear_joint": "ear",
            "shoulder_1_joint": "shoulder",
            "forearm_joint": "elbow",
            "hand_joint": "wrist",
            "upLeg_joint": "hip",
            "leg_joint": "knee",
            "foot_joint": "ankle",
        }.items()
    },
}
_LEAST_JOINTS: Final[int] = 8
_INSIDE: Final[tuple[str, ...]] = ("joints", "points", "recognizedPoints")


def _joint(name: str) -> str | None:
    """The point's own name; ``None`` for a joint that the analysis doesn't use."""
    plain = _OTHER_NAMES.get(name) or re.sub(r"(?<=[a-z])(?=[A-Z])", "_", name).lower()
    try:
        return resolve([plain])[0]
    except LayoutError:
        return None


def _joints(frame: object) -> dict[str, object] | None:
    if not isinstance(frame, dict):
        return None
    inside = next((frame[k] for k in _INSIDE if isinstance(frame.get(k), dict)), frame)
    return inside if isinstance(inside, dict) else None


def _recognises(raw: object) -> bool:
    found = _joints(first_filled(raw))
    if not found:
        return False
    known = [name for name in found if isinstance(name, str) and _joint(name) is not None]
    return len(known) >= _LEAST_JOINTS


def _read(raw: object, complaints: Complaints) -> People | None:
    sent = frames_of(raw, complaints, _SHAPE)
    found = [_joints(frame) if frame is not None else {} for frame in sent]
    wrong = Wrong(complaints, f"Send {_SHAPE}")
    for index, joints in enumerate(found):
        if joints is None:
            wrong.add(index, sent[index])
    if wrong.tell():
        return None
    spelt = {name: _joint(name) for joints in found for name in joints or ()}
    layout = tuple(dict.fromkeys(joint for joint in spelt.values() if joint is not None))
    if len(layout) < _LEAST_JOINTS:
        complaints.add("/keypoints", f"names {len(layout)} known joints", f"Send {_SHAPE}")
        return None
    frames: list[Frame] = [[_person(joints or {}, spelt, layout)] for joints in found]
    return People(frames, layout, normalised=True)


def _person(
    joints: dict[str, object], spelt: dict[str, str | None], layout: tuple[str, ...]
) -> Person:
    points = {spelt[name]: _point(value) for name, value in joints.items()}
    return [points.get(joint) for joint in layout]


def _point(value: object) -> Point:
    """One point with y turned to grow downwards."""
    if isinstance(value, dict):
        point = point_of_object(value, ("confidence", "score", "visibility"))
    elif isinstance(value, list) and len(value) in (2, 3):
        x, y = number(value[0]), number(value[1])
        confidence = share(value[2]) if len(value) == 3 else None
        point = None if x is None or y is None else [x, y, confidence]
    else:
        point = None
    if point is None or point[1] is None:
        return None
    return [point[0], 1.0 - point[1], point[2]]


FORMAT: Final = PoseFormat(
    name="named_joints_y_up",
    title="Named joints a frame, y upwards",
    source="Apple developer documentation, Vision, VNRecognizedPoint",
    shape=_SHAPE,
    detectable=True,
    recognises=_recognises,
    read=_read,
    y_up=True,
)
