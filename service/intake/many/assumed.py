"""What may be assumed of many swings that don't tell it themselves."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Final

from pydantic import BaseModel, ConfigDict, Field

from service.analysis.types import Club, Handedness, Intent, View
from service.intake.frame_times import MAX_FPS, MIN_FPS
from service.intake.parsing.json_reader import model_of
from service.intake.request import (
    FIXES,
    MAX_COLUMNS,
    MAX_NAME,
    MAX_PLAYBACK_SPEED,
    MIN_PLAYBACK_SPEED,
    Coordinates,
    Format,
    ImageSize,
)

_Name = Annotated[str, Field(max_length=MAX_NAME)]


class Assumed(BaseModel):
    """Fields of a request for swings that lack them; as in a request otherwise."""

    model_config = ConfigDict(extra="forbid")

    layout: _Name | Annotated[list[_Name | None], Field(max_length=MAX_COLUMNS)] | None = None
    format: Format | None = None
    fps: float | None = Field(default=None, ge=MIN_FPS, le=MAX_FPS, strict=True)
    playback_speed: float | None = Field(
        default=None, ge=MIN_PLAYBACK_SPEED, le=MAX_PLAYBACK_SPEED, strict=True
    )
    coordinates: Coordinates | None = None
    image_size: ImageSize | None = None
    view: View | None = None
    handedness: Handedness | None = None
    intent: Intent | None = None
    club: Club | None = None

    def told(self) -> dict[str, Any]:
        """The fields that are assumed, as a request has them."""
        return self.model_dump(mode="json", exclude_none=True)


ASSUMED: Final = tuple(Assumed.model_fields)
"""Names of the fields that may be assumed."""


def assumed_of(raw: Mapping[str, Any]) -> dict[str, Any]:
    """What is to be assumed, checked before a single swing is read.

    Raises
    ------
    InvalidRequest
    """
    return model_of(raw, Assumed, FIXES, "").told()
