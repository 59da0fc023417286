"""33 landmarks as objects, as results of full-body landmark models come.

Source: the documentation of the MediaPipe pose landmarker, "Output": for every person 33
landmarks ``{x, y, z, visibility, presence}``, x and y as fractions of the image's width and
height, and the same landmarks once more in world coordinates about the middle of the hips.
"""

from __future__ import annotations

from typing import Final

from service.intake.errors import Complaints
from service.intake.formats.definition import (
    Frame,
    People,
    Person,
    PoseFormat,
    Wrong,
    first_filled,
    frames_of,
    point_of_object,
)

_COUNT: Final[int] = 33
_HIPS: Final[tuple[int, int]] = (23, 24)
_LISTS: Final[tuple[str, ...]] = ("pose_landmarks", "poseLandmarks", "landmarks", "landmark")
_WORLD: Final[tuple[str, ...]] = ("pose_world_landmarks", "poseWorldLandmarks", "worldLandmarks")
_SHAPE: Final[str] = (
    "a list of frames, each a list of 33 objects {x, y, z, visibility}, a list of such lists with "
    "several people, or an object with that list under pose_landmarks."
)
_WORLD_FIX: Final[str] = (
    "Send pose_landmarks, the landmarks in the image: world coordinates are about the middle of "
    "the hips, so that neither the feet's place nor a sway of the body is in them."
)


def _inside(frame: object) -> object:
    """The list of landmarks or of people within a frame."""
    while isinstance(frame, dict):
        frame = next((frame[name] for name in _LISTS if name in frame), None)
    return frame


def _is_person(value: object) -> bool:
    return (
        isinstance(value, list)
        and len(value) == _COUNT
        and all(p is None or (isinstance(p, dict) and "x" in p and "y" in p) for p in value)
        and any(value)
    )


def _people(frame: object) -> list[list[dict[str, object] | None]] | None:
    found = _inside(frame)
    if not found:
        return []
    if _is_person(found):
        return [found]  # type: ignore[list-item]  # just looked at
    if isinstance(found, list):
        lists = [_inside(person) for person in found]
        if all(_is_person(person) for person in lists):
            return lists  # type: ignore[return-value]  # just looked at
    return None


def _recognises(raw: object) -> bool:
    first = first_filled(raw)
    if isinstance(first, dict) and any(name in first for name in _WORLD):
        return True
    return bool(first is not None and _inside(first) and _people(first))


def _read(raw: object, complaints: Complaints) -> People | None:
    frames: list[Frame] = []
    wrong = Wrong(complaints, f"Send {_SHAPE}")
    sent = frames_of(raw, complaints, _SHAPE)
    only_world = [
        isinstance(f, dict) and any(n in f for n in _WORLD) and not _inside(f) for f in sent
    ]
    if only_world and all(only_world):
        complaints.add("/keypoints", "holds world landmarks only", _WORLD_FIX)
        return None
    for index, frame in enumerate(sent):
        people = _people(frame)
        if people is None:
            wrong.add(index, frame)
            continue
        frames.append([_points(person) for person in people])
    if wrong.tell():
        return None
    if _about_the_hips(frames):
        complaints.add("/keypoints", "has the middle of the hips at 0 in every frame", _WORLD_FIX)
        return None
    return People(frames, "landmarks_33", normalised=True)


def _points(person: list[dict[str, object] | None]) -> Person:
    return [None if p is None else point_of_object(p, ("visibility", "presence")) for p in person]


def _about_the_hips(frames: list[Frame]) -> bool:
    """Whether these are world coordinates, whose origin is the middle of the hips."""
    middles = []
    for person in (person for frame in frames for person in frame):
        left, right = (person[k] for k in _HIPS)
        if left is not None and right is not None:
            middles.append([(left[k] or 0.0) + (right[k] or 0.0) for k in (0, 1)])
    return bool(middles) and all(abs(x) < 0.02 and abs(y) < 0.02 for x, y in middles)


FORMAT: Final = PoseFormat(
    name="landmarks_33_objects",
    title="33 landmarks as objects",
    source='MediaPipe documentation, "Pose landmark detection guide", part "Output"',
    shape=_SHAPE,
    detectable=True,
    recognises=_recognises,
    read=_read,
)
