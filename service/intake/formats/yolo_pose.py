"""Pose results of YOLO-style detectors: arrays of people, or their JSON summary.

Source: Ultralytics documentation, "Pose estimation" and "Results": ``keypoints.data`` is an array
(people, 17, 3) of x, y in pixels and confidence, ``keypoints.xy`` the same without it, both in
the order of COCO; the JSON summary of a frame is a list of detections with ``keypoints`` as
``{x: [...], y: [...], visible: [...]}``.
"""

from __future__ import annotations

from typing import Final, TypeGuard

from service.intake.errors import Complaints
from service.intake.formats.definition import (
    Frame,
    People,
    Person,
    PoseFormat,
    Wrong,
    first_filled,
    frames_of,
    number,
    share,
)

_COUNT: Final[int] = 17
_SHAPE: Final[str] = (
    "a list of frames, each an array (people, 17, 2 or 3) or the list of detections of the JSON "
    "summary, with keypoints {x, y, visible}."
)


def _recognises(raw: object) -> bool:
    first = first_filled(raw)
    return isinstance(first, list) and bool(first) and _person(first[0]) is not None


def _read(raw: object, complaints: Complaints) -> People | None:
    frames: list[Frame] = []
    wrong = Wrong(complaints, f"Send {_SHAPE}")
    for index, frame in enumerate(frames_of(raw, complaints, _SHAPE)):
        people = [_person(each) for each in frame] if isinstance(frame, list) else [None]
        found = [person for person in people if person is not None]
        if frame is not None and len(found) != len(people):
            wrong.add(index, frame)
            continue
        frames.append(found)
    return None if wrong.tell() else People(frames, "coco_17", normalised=False)


def _person(value: object) -> Person | None:
    if isinstance(value, dict):
        return _of_summary(value.get("keypoints"))
    if not isinstance(value, list) or len(value) != _COUNT:
        return None
    if not all(p is None or (isinstance(p, list) and len(p) in (2, 3)) for p in value):
        return None
    return [None if p is None else _point(*p) for p in value]


def _of_summary(keypoints: object) -> Person | None:
    if not isinstance(keypoints, dict):
        return None
    xs, ys = keypoints.get("x"), keypoints.get("y")
    seen = keypoints.get("visible") or [None] * _COUNT
    if not (_is_list(xs) and _is_list(ys) and _is_list(seen)):
        return None
    return [_point(x, y, c) for x, y, c in zip(xs, ys, seen, strict=True)]


def _is_list(value: object) -> TypeGuard[list[object]]:
    """Whether it is a list with an entry for every point."""
    return isinstance(value, list) and len(value) == _COUNT


def _point(x: object, y: object, confidence: object = None) -> list[float | None] | None:
    """A point that was not found is written ``0, 0``; ``null``, as elsewhere, is taken too."""
    across, down = number(x), number(y)
    if across is None or down is None or (across == 0.0 and down == 0.0):
        return None
    return [across, down, share(confidence)]


FORMAT: Final = PoseFormat(
    name="yolo_pose",
    title="YOLO-style pose results, arrays or JSON summary",
    source='Ultralytics documentation, "Pose Estimation" and "Reference for results"',
    shape=_SHAPE,
    detectable=True,
    recognises=_recognises,
    read=_read,
)
