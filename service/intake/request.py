"""What a caller may send: the request and its schema.

The long lists of numbers stay raw JSON here and are read by
:mod:`service.intake.recording`; validating them number by number with nested
models would cost many times the analysis.
"""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated, Any, Final

from pydantic import BaseModel, ConfigDict, Field, StringConstraints, WithJsonSchema

from service.analysis.pose.layouts import LAYOUTS
from service.analysis.pose.points import CLUB_POINTS
from service.analysis.types import Club, Handedness, Intent, View
from service.intake.errors import Complaints, FieldError, InvalidRequest
from service.intake.formats import FORMATS
from service.intake.frame_times import MAX_FPS, MIN_FPS, one_is_given
from service.intake.parsing.json_reader import model_of
from service.intake.parsing.plain_frames import read_swing

MAX_REFERENCE: Final[int] = 200
MAX_COLUMNS: Final[int] = 200
MAX_NAME: Final[int] = 64
MIN_PLAYBACK_SPEED: Final[float] = 0.01
MAX_PLAYBACK_SPEED: Final[float] = 10.0

NO_NUL: Final[str] = r"^[^\x00]*$"
"""Pattern of texts that are kept: PostgreSQL has no NUL in them."""
_WHOLE_FIX = "Send one JSON object with keypoints, layout and fps or timestamps."
NO_LAYOUT_FIX: Final[str] = (
    "Send the name of a layout, a list with one point name or null for every column, or the "
    "format of the pose library that the keypoints come from."
)

_NUMBER_OR_NULL = {"type": ["number", "null"]}
_CONFIDENCE = {"type": ["number", "null"], "minimum": 0, "maximum": 1}


def _of_length(*items: dict[str, Any]) -> dict[str, Any]:
    length = len(items)
    return {
        "type": "array",
        "prefixItems": [*items],
        "minItems": length,
        "maxItems": length,
    }


_POINT = {
    "anyOf": [
        _of_length(_NUMBER_OR_NULL, _NUMBER_OR_NULL),
        _of_length(_NUMBER_OR_NULL, _NUMBER_OR_NULL, _CONFIDENCE),
        {"type": "null"},
    ],
    "description": "[x, y] or [x, y, confidence]; null where missing.",
}
_AS_IT_CAME = {"description": "What a pose library gave, in the format that `format` names."}
_KEYPOINTS = {
    "anyOf": [
        {"type": "array", "items": {"type": ["array", "null"], "items": _POINT}},
        {**_AS_IT_CAME, "type": "array", "items": {}},
        {**_AS_IT_CAME, "type": "object", "additionalProperties": True},
    ]
}
_LAYOUT = {
    "anyOf": [
        {"type": "string", "enum": list(LAYOUTS)},
        {
            "type": "array",
            "items": {"type": ["string", "null"], "maxLength": MAX_NAME},
            "maxItems": MAX_COLUMNS,
        },
    ]
}
_TIMESTAMPS = {"type": ["array", "null"], "items": {"type": "number"}}
_CLUB_POINTS = {
    "type": ["object", "null"],
    "properties": {name: {"type": ["array", "null"], "items": _POINT} for name in CLUB_POINTS},
    "additionalProperties": False,
}

_StrictFloat = Annotated[float, Field(strict=True, allow_inf_nan=False)]


class Coordinates(StrEnum):
    """What coordinates are counted in."""

    PIXELS = "pixels"
    NORMALISED = "normalised"


# The type checker knows only enumerations that are written out.
Format = StrEnum("Format", {name.upper(): name for name in FORMATS})  # type: ignore[misc]
Format.__doc__ = "Formats of pose libraries that are read as they come."


class ImageSize(BaseModel):
    """Size of the video's images in pixels."""

    model_config = ConfigDict(extra="forbid")

    width: _StrictFloat = Field(ge=1, le=100_000)
    height: _StrictFloat = Field(ge=1, le=100_000)


class Asked(BaseModel):
    """What the player was asked to do in this swing."""

    model_config = ConfigDict(extra="forbid")

    stop_at: _StrictFloat = Field(
        gt=1,
        le=4,
        description="The position coordinate at which the backswing was to stop, above 1 to 4: 3 "
        "is the lead arm parallel to the ground, 4 the usual top of a full swing, 3.5 halfway "
        "between. `stopped_at` of the answer says where it did stop.",
    )


class SwingRequest(BaseModel):
    """One clip of pose keypoints to analyse."""

    model_config = ConfigDict(extra="forbid")

    keypoints: Annotated[object, WithJsonSchema(_KEYPOINTS)] = Field(
        description="Frames of points, x to the right and y down the image. Points that are "
        "[0, 0] with no confidence or with confidence 0 are taken as missing; a frame in which "
        "nobody was found is null or empty. Or what a pose library gave, as it came: see `format`."
    )
    format: Format | None = Field(
        default=None,
        description="The format of `keypoints` where they are what a pose library gave. Without "
        "it a format that is beyond doubt is read as well; `quality.remarks` says what was taken "
        "for what.",
    )
    layout: Annotated[object, WithJsonSchema(_LAYOUT)] = Field(
        default=None,
        description="What the points of a frame are: the name of a published layout (see "
        "`/v1/layouts`), or one point name for each, null for a point to ignore. A pose library's "
        "`format` has a layout of its own.",
    )
    fps: _StrictFloat | None = Field(
        default=None,
        ge=MIN_FPS,
        le=MAX_FPS,
        description="Frames a second of the video. Send this or `timestamps`.",
    )
    timestamps: Annotated[object, WithJsonSchema(_TIMESTAMPS)] = Field(
        default=None,
        description="Video time of every frame in seconds, strictly increasing. Send this or "
        "`fps`.",
    )
    playback_speed: _StrictFloat = Field(
        default=1.0,
        ge=MIN_PLAYBACK_SPEED,
        le=MAX_PLAYBACK_SPEED,
        description="1 plays in real time; 0.25 plays four times slower than life. Player's time "
        "is video time times this, so the real frame rate is `fps` divided by it.",
    )
    coordinates: Coordinates | None = Field(
        default=None,
        description="Pixels unless sent, or what a pose library's `format` gives. `normalised` "
        "coordinates are fractions of the image's width and height, and need `image_size`.",
    )
    image_size: ImageSize | None = Field(
        default=None,
        description="Needed with `normalised` coordinates, which hide the aspect ratio.",
    )
    club_points: Annotated[object, WithJsonSchema(_CLUB_POINTS)] = Field(
        default=None,
        description="Points of the club, one a frame each, in the same coordinates: `grip_end` is "
        "the butt, `grip` where the hands hold it.",
    )
    view: View | None = Field(
        default=None, description="Where the camera stands; inferred when not sent."
    )
    handedness: Handedness | None = Field(
        default=None, description="Which way the player plays; inferred when not sent."
    )
    intent: Intent = Field(
        default=Intent.FULL_SPEED,
        description="A rehearsal is judged by its shape, not by its speed.",
    )
    club: Club | None = Field(
        default=None,
        description="The club in the player's hands, which swings are compared and counted by; "
        "`wood` or `iron` where no more is known. Irons up to 4 are long, 5 to 7 mid, 8 and 9 "
        "short (common practice).",
    )
    asked: Asked | None = Field(
        default=None, description="What the player was asked to do, where it is to be looked at."
    )
    client_reference: (
        Annotated[str, StringConstraints(max_length=MAX_REFERENCE, pattern=NO_NUL)] | None
    ) = Field(default=None, description="Anything of yours; comes back in the answer unchanged.")


def read_request(body: bytes) -> SwingRequest:
    """Read a request from JSON text.

    Raises
    ------
    MalformedJson
        When the text is not JSON, is not UTF-8 or nests too deep.
    InvalidRequest
        When a field is missing, unknown or of the wrong kind. What the raw fields hold is
        not looked at here.
    """
    return request_of(read_swing(body))


def request_of(raw: object) -> SwingRequest:
    """The same from what a JSON text held, or from the columns of a table.

    Raises
    ------
    InvalidRequest
        As :func:`read_request`.
    """
    try:
        return model_of(raw, SwingRequest, FIXES, _WHOLE_FIX)
    except InvalidRequest as refused:
        raise refused.and_also(_lacking(raw)) from None


def _lacking(raw: object) -> tuple[FieldError, ...]:
    """What no schema asks for and a request can't do without, to be told with what it does.

    A name that nobody knows may be meant for it.
    """
    if not isinstance(raw, dict) or not raw.keys() <= SwingRequest.model_fields.keys():
        return ()
    complaints = Complaints()
    if "keypoints" not in raw and raw.get("layout") is None and raw.get("format") is None:
        complaints.add("/layout", "is missing", NO_LAYOUT_FIX)
    one_is_given(raw.get("fps"), raw.get("timestamps"), complaints)
    return complaints.kept


def _one_of(kind: type[StrEnum]) -> str:
    return f"Send one of {', '.join(kind)}"


FIXES: Final[dict[str, str]] = {
    "keypoints": "Send a list of frames, each a list of points.",
    "layout": f"Send one of {', '.join(LAYOUTS)}, or a list with one point name a column.",
    "format": f"{_one_of(Format)}, or leave it out.",
    "fps": f"Send the video's frame rate, a number from {MIN_FPS:g} to {MAX_FPS:g}.",
    "playback_speed": "Send a number from 0.01 to 10, or leave it out; 1 is real time.",
    "coordinates": f"{_one_of(Coordinates)}, or leave it out.",
    "image_size": "Send {width, height} in pixels, each from 1 to 100000.",
    "view": f"{_one_of(View)}, or leave it out.",
    "handedness": f"{_one_of(Handedness)}, or leave it out.",
    "intent": f"{_one_of(Intent)}, or leave it out.",
    "club": f"{_one_of(Club)} (irons up to 4 are long, 5 to 7 mid, 8 and 9 short), or leave it "
    "out.",
    "asked": "Send {stop_at} with a number above 1 and at most 4, or leave it out.",
    "client_reference": f"Send a string of at most {MAX_REFERENCE} characters without NUL.",
}
"""What to send instead, by the name of the field."""
