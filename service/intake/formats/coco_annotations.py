"""COCO keypoint annotations or results: objects with a flat list and the image they belong to.

Source: COCO, "Data format", keypoint detection: ``keypoints`` is a flat list ``x, y, v`` of 17
points in pixels, v being 0 for a point not labelled, 1 for one labelled but hidden and 2 for one
seen; results hold a confidence in its place.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise
from typing import Final

from service.intake.errors import Complaints, json_pointer, kind_of, telling_alike_once
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
_DIGITS: Final = re.compile("([0-9]+)")
_LAST_NUMBER: Final = re.compile(r"([0-9]{1,18})[^0-9]*(?:\.[a-z][a-z0-9]*)?$", re.IGNORECASE)
"""In the name of an image; digits of its ending, as in ``.jp2``, are none."""
_SPARSEST: Final[int] = 4
"""Most frames of a film to each with somebody in it: ids farther apart are no numbers of frames."""


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
    listed = _images(raw)
    by_image: dict[int | str, Frame] = {image: [] for image in listed}
    people: list[Person] = []
    with telling_alike_once(complaints) as wrong:
        for index, annotation in enumerate(found):
            person = _person(annotation)
            image = annotation.get("image_id") if isinstance(annotation, dict) else None
            if person is None or not isinstance(image, int | str):
                wrong.add(
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
    images = sorted(by_image, key=_order)
    return People(
        [[_with_confidence(person, labelled) for person in by_image[image]] for image in images],
        "coco_17",
        normalised=False,
        places=() if listed else _places(images),
    )


def _images(raw: object) -> list[int | str]:
    """Ids of all images of a whole file, so that one without a person is a frame too."""
    images = raw.get("images") if isinstance(raw, dict) else None
    listed = images if isinstance(images, list) else []
    ids = [image.get("id") for image in listed if isinstance(image, dict)]
    return [i for i in ids if isinstance(i, int | str)]


def _order(image: int | str) -> tuple[bool, object]:
    """Sorts images as they were filmed, numbers within names by their size: 9.jpg, then 10.jpg."""
    if isinstance(image, int):
        return False, image
    texts = _DIGITS.split(image)
    texts[1::2] = [digits.lstrip("0") for digits in texts[1::2]]
    return True, [(len(text), text) if k % 2 else text for k, text in enumerate(texts)]


def _places(images: Sequence[int | str]) -> tuple[int, ...]:
    """The place of each image in its film where ids number the frames, and steps of one length
    lead to all of them; else none.

    >>> _places(["f8.jpg", "f9.jpg", "f12.jpg"]), _places([0, 5, 15]), _places(["a", "b"])
    ((0, 1, 4), (0, 1, 3), ())
    """
    numbers = [number for number in map(_number, images) if number is not None]
    steps = [after - before for before, after in pairwise(numbers)]
    step = min(steps, default=0)
    if len(numbers) < len(images) or step < 1 or any(each % step for each in steps):
        return ()
    places = tuple((number - numbers[0]) // step for number in numbers)
    return places if places[-1] < _SPARSEST * len(places) else ()


def _number(image: int | str) -> int | None:
    found = _LAST_NUMBER.search(image) if isinstance(image, str) else None
    return int(found[1]) if found else image if isinstance(image, int) else None


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
