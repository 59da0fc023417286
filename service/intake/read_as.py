"""What was sent, whatever its format, as the frames of points that the recording is read from."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import chain
from typing import Final

from service.analysis.pose.layouts import LayoutError, resolve
from service.analysis.types import Level, Remark
from service.intake.errors import Complaints, complaining, kind_of
from service.intake.formats import FORMATS, Frame, People, PoseFormat, detect
from service.intake.frame_times import one_is_given
from service.intake.player import Followed, follow_player
from service.intake.request import NO_LAYOUT_FIX, Coordinates, SwingRequest

_POINT: Final[int] = 3
"""Most numbers of a plain point."""


@dataclass(frozen=True)
class Sent:
    """Keypoints as plain frames of points.

    Attributes
    ----------
    keypoints
        Raw JSON still to be checked, or what a format's reader made of it.
    normalised
        Whether coordinates are fractions of the image.
    remarks
        What was taken for what, and which of several people for the player.
    turned
        Whether y was turned to grow downwards, as a format has it grow upwards.
    """

    keypoints: object
    layout: object
    normalised: bool
    remarks: tuple[Remark, ...] = ()
    turned: bool = False


def read_as(request: SwingRequest) -> Sent:
    """Read the keypoints of a request by the format that was declared or can't be mistaken.

    Raises
    ------
    InvalidRequest
        When they don't have the declared format, when none was declared and the points are no
        plain points, or when there is neither a format nor a layout.
    """
    with complaining() as complaints:
        found = _format_of(request, complaints)
        if complaints.any:  # what else is missing is told with it, not after it is mended
            one_is_given(request.fps, request.timestamps, complaints)
    with complaining() as complaints:
        people = found.read(request.keypoints, complaints) if found else None
    if found is None:
        return Sent(
            request.keypoints, request.layout, request.coordinates is Coordinates.NORMALISED
        )
    assert people is not None  # a reader that gives None has complained
    followed = follow_player(_film(people, request))
    columns = max((len(person) for person in followed.points if person is not None), default=0)
    with complaining() as complaints:
        if not columns:
            complaints.add(
                "/keypoints",
                "holds nobody in any frame",
                "Send the frames in which the pose library found the player.",
            )
    normalised = people.normalised
    if request.coordinates is not None:
        normalised = request.coordinates is Coordinates.NORMALISED
    elif normalised and _beyond_the_image(followed):
        normalised = False
    return Sent(
        [[None] * columns if person is None else person for person in followed.points],
        people.layout if isinstance(people.layout, str) else list(people.layout),
        normalised,
        tuple(_remarks(found, request, people, normalised, followed)),
        found.y_up,
    )


def _film(people: People, request: SwingRequest) -> list[Frame]:
    """The frames, and between them those in which nobody was found, unless what was sent beside
    them has an entry for each frame without these.
    """
    club = request.club_points.values() if isinstance(request.club_points, dict) else ()
    beside = [sent for sent in (request.timestamps, *club) if isinstance(sent, list)]
    if not people.places or any(len(sent) == len(people.frames) for sent in beside):
        return people.frames
    film: list[Frame] = [[] for _ in range(people.places[-1] + 1)]
    for place, frame in zip(people.places, people.frames, strict=True):
        film[place] = frame
    return film


def _format_of(request: SwingRequest, complaints: Complaints) -> PoseFormat | None:
    """The format to read by; ``None`` for plain frames of points."""
    plain = _is_plain(request.keypoints)
    if request.format is not None:
        declared = FORMATS[request.format]
        if plain and declared.detectable and not declared.recognises(request.keypoints):
            complaints.add(
                "/format",
                f"says {declared.name}, but keypoints are frames of plain points",
                "Leave format out and send layout, or send what the pose library wrote as it came.",
            )
        return declared
    found = () if plain else detect(request.keypoints)
    if len(found) == 1:
        return found[0]
    strange = None if plain else _told_strange(request.keypoints)
    if len(found) > 1 or strange:
        names = ", ".join(f.name for f in found) or ", ".join(FORMATS)
        complaints.add(
            "/keypoints",
            strange or "fits several formats",
            f"Send format, one of {names}; or a list of frames, each a list of the plain points of "
            "one person, [x, y] or [x, y, confidence].",
        )
    elif request.layout is None:
        complaints.add("/layout", "is missing", NO_LAYOUT_FIX)
    return None


def _is_plain(keypoints: object) -> bool:
    """Whether the first frame that holds anything holds a list of numbers for a point."""
    frames = keypoints if isinstance(keypoints, list) else []
    frame = next((f for f in frames if (any(f) if isinstance(f, list) else f)), None)
    point = next((p for p in frame if p), None) if isinstance(frame, list) else None
    return isinstance(point, list) and not any(isinstance(v, list | dict) for v in point)


def _told_strange(keypoints: object) -> str | None:
    """What is no plain point where most are not, told once for all of them."""
    if isinstance(keypoints, dict):
        return "is an object, not a list of frames"
    frames = [f for f in keypoints if f] if isinstance(keypoints, list) else []
    others = [f for f in frames if not isinstance(f, list)]
    if others:
        return f"has {len(others):,} frames that are {kind_of(others[0])} each, no list of points"
    points = [p for p in chain.from_iterable(f for f in frames if isinstance(f, list)) if p]
    strange = [
        p for p in points if not isinstance(p, list) or any(isinstance(v, list | dict) for v in p)
    ]
    if len(strange) <= len(points) // 2:
        return None
    if isinstance(strange[0], int | float):
        in_a_row = [f for f in frames if len(f) > _POINT and not _holds_lists(f)]
        if in_a_row:
            return f"has {len(in_a_row):,} frames of numbers in a row, which are no points"
        return f"has {len(strange):,} numbers where points should be, as one frame alone would have"
    if all(map(_is_person, strange)):
        return f"has {len(strange):,} people in its frames, each a list of points"
    kind = kind_of(strange[0])
    return f"has {len(strange):,} points that are no points but {kind} each"


def _is_person(sent: object) -> bool:
    """Whether it is a list of points, as of one of several people in a frame."""
    points = [p for p in sent if p is not None] if isinstance(sent, list) else []
    numbers = (int, float, type(None))
    return len(points) > _POINT and all(
        isinstance(p, list) and p and all(isinstance(v, numbers) for v in p) for p in points
    )


def _holds_lists(frame: list[object]) -> bool:
    return any(isinstance(point, list) for point in frame)


def _is_another(sent: object, own: str | tuple[str | None, ...]) -> bool:
    """Whether a layout was sent that is not that of the format."""
    if sent is None:
        return False
    try:
        return resolve(sent) != resolve(own)  # type: ignore[arg-type]  # told below
    except (LayoutError, TypeError, AttributeError):  # it is no layout at all
        return True


def _beyond_the_image(followed: Followed) -> bool:
    """Whether points of a format that gives fractions of the image are pixels all the same."""
    values = [p[:2] for person in followed.points if person for p in person if p]
    beyond = [v for v in values if max(abs(v[0] or 0.0), abs(v[1] or 0.0)) > 3.0]
    return len(beyond) > 0.5 * len(values)


def _remarks(
    found: PoseFormat, request: SwingRequest, people: People, normalised: bool, followed: Followed
) -> list[Remark]:
    unit = "fractions of the image" if normalised else "pixels"
    how = "were taken for" if request.format is None else "were read as"
    other = _is_another(request.layout, people.layout)
    own = "; the layout that was sent is another, and was not looked at" if other else ""
    told = [
        Remark(
            "format_read",
            Level.INFO,
            f"The keypoints {how} {found.title}, coordinates as {unit}{own}.",
            "Send format and coordinates if this is not what they are.",
        )
    ]
    if followed.most_people > 1:
        told.append(
            Remark(
                "several_people",
                Level.WARNING,
                f"Up to {followed.most_people} people are in a frame; the tallest in the picture "
                f"over the film was followed, others are seen in {followed.others} frames.",
                "Film the player alone, or send only the player's keypoints.",
            )
        )
    return told
