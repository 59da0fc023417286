"""COCO keypoint annotations or results: objects with a flat list and the image they belong to.

Source: COCO, "Data format", keypoint detection: ``keypoints`` is a flat list ``x, y, v`` of 17
points in pixels, v being 0 for a point not labelled, 1 for one labelled but hidden and 2 for one
seen; results hold a confidence in its place.
"""

from __future__ import annotations

from typing import Final

from service.intake.errors import Complaints, json_pointer, kind_of
from service.intake.formats.definition import (
    CONFIDENCE,
    Frame,
    People,
    Person,
    PoseFormat,
    points_of_flat,
)

_SHAPE: Final[str] = (
    "the annotations: a list of {image_id, keypoints: [x, y, v, ...]} of 17 points, or the whole "
    "file with its annotations and images."
)
_COUNT: Final[int] = 17
_SEEN: Final[dict[float, float]] = {1.0: 0.5, 2.0: 1.0}
"""Confidence of a hidden and of a seen point: whoever labels a hidden one guesses its place."""


def _annotations(raw: object) -> list[object] | None:
    found = raw.get("annotations") if isinstance(raw, dict) else raw
    return found if isinstance(found, list) else None


def _recognises(raw: object) -> bool:
    found = _annotations(raw)
    first = found[0] if found else None
    return isinstance(first, dict) and "image_id" in first and "keypoints" in first


def _read(raw: object, complaints: Complaints) -> People | None:
    found = _annotations(raw)
    if found is None:
        complaints.add("/keypoints", f"is {kind_of(raw)}", f"Send {_SHAPE}")
        return None
    by_image: dict[object, Frame] = {image: [] for image in _images(raw)}
    people: list[Person] = []
    for index, annotation in enumerate(found):
        person = _person(annotation)
        image = annotation.get("image_id") if isinstance(annotation, dict) else None
        if person is None or not isinstance(image, int | str):
            complaints.add(
                json_pointer("keypoints", index),
                f"is {kind_of(annotation)} without an image_id or {_COUNT} points",
                f"Send {_SHAPE}",
            )
            continue
        people.append(person)
        by_image.setdefault(image, []).append(person)
    if complaints.any:
        return None
    labelled = all(p[CONFIDENCE] in (0.0, 1.0, 2.0) for person in people for p in person if p)
    frames = [by_image[image] for image in sorted(by_image, key=_order)]
    return People(
        [[_with_confidence(person, labelled) for person in frame] for frame in frames],
        "coco_17",
        normalised=False,
    )


def _images(raw: object) -> list[object]:
    """Ids of all images of a whole file, so that one without a person is a frame too."""
    images = raw.get("images") if isinstance(raw, dict) else None
    ids = [image.get("id") for image in images or () if isinstance(image, dict)]
    return [i for i in ids if isinstance(i, int | str)]


def _order(image: object) -> tuple[bool, object]:
    return isinstance(image, str), image


def _person(annotation: object) -> Person | None:
    flat = annotation.get("keypoints") if isinstance(annotation, dict) else None
    points = points_of_flat(flat) if isinstance(flat, list) else None
    return points if points is not None and len(points) == _COUNT else None


def _with_confidence(person: Person, labelled: bool) -> Person:
    if not labelled:
        return person
    return [
        None if p is None or p[CONFIDENCE] not in _SEEN else [p[0], p[1], _SEEN[p[CONFIDENCE]]]
        for p in person
    ]


FORMAT: Final = PoseFormat(
    name="coco_annotations",
    title="COCO keypoint annotations or results",
    source='COCO, "Data format", part "Keypoint Detection"; Lin et al., ECCV 2014',
    shape=_SHAPE,
    detectable=True,
    recognises=_recognises,
    read=_read,
)
