"""17 points in the order y, x, score, as fractions of the image.

Source: TensorFlow Hub, MoveNet model card, "Outputs": an array (1, 1, 17, 3) of y, x and score in
the order of COCO, or (1, people, 56) of the model for several people, whose last five numbers are
a box and its score.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from service.intake.errors import Complaints
from service.intake.formats.definition import (
    Frame,
    People,
    Person,
    PoseFormat,
    Wrong,
    frames_of,
    number,
    share,
)

_COUNT: Final[int] = 17
_FLAT: Final[int] = 56
_LEAST_SCORE: Final[float] = 0.1
"""Score of a person below which nobody is there (common practice)."""
_SHAPE: Final[str] = (
    "a list of frames, each an array (17, 3) of y, x and score, with or without the outer brackets "
    "of the model's output."
)


def _recognises(_raw: object) -> bool:
    return False  # in shape it is like any list of points


def _read(raw: object, complaints: Complaints) -> People | None:
    frames: list[Frame] = []
    wrong = Wrong(complaints, f"Send {_SHAPE}")
    for index, frame in enumerate(frames_of(raw, complaints, _SHAPE)):
        people = [] if frame is None else _people(frame)
        if people is None:
            wrong.add(index, frame)
            continue
        frames.append(people)
    return None if wrong.tell() else People(frames, "coco_17", normalised=True)


def _people(frame: object) -> Frame | None:
    while isinstance(frame, list) and len(frame) == 1:
        frame = frame[0]
    if not isinstance(frame, list):
        return None
    if len(frame) == _FLAT and all(number(v) is not None for v in frame):
        frame = [frame]
    person = _person(frame)
    if person is not None:
        return [person]
    people = [_of_flat(each) for each in frame]
    found = [p for p in people if p is not None]
    return None if len(found) != len(people) else [p for p in found if p]


def _of_flat(values: object) -> Person | None:
    """A person of the model for several people; an empty one where its score says nobody."""
    if not isinstance(values, list) or len(values) != _FLAT:
        return None
    if (share(values[-1]) or 0.0) < _LEAST_SCORE:
        return []
    return _person([values[k : k + 3] for k in range(0, 3 * _COUNT, 3)])


def _person(value: Sequence[object]) -> Person | None:
    if len(value) != _COUNT or not all(isinstance(p, list) and len(p) == 3 for p in value):
        return None
    points: Person = []
    for point in value:
        assert isinstance(point, list)
        y, x = number(point[0]), number(point[1])
        points.append(None if x is None or y is None else [x, y, share(point[2])])
    return points


FORMAT: Final = PoseFormat(
    name="y_x_score_17",
    title="17 points in the order y, x, score",
    source='TensorFlow Hub, MoveNet model card, part "Outputs"',
    shape=_SHAPE,
    detectable=False,
    recognises=_recognises,
    read=_read,
)
