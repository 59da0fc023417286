"""Shapes that a coach draws over the picture of a position, as they are sent and answered."""

from __future__ import annotations

from typing import Annotated, Any, Final

from pydantic import (
    AfterValidator,
    ConfigDict,
    Field,
    JsonValue,
    StringConstraints,
    model_validator,
)
from pydantic_core import PydanticCustomError

from service.api.schemas.coach.fields import MOST_LABEL, Body
from service.api.schemas.values import Answer
from service.lessons.coach.edits import ShapeKind

# Body heights from the middle of the feet.
_LOWEST, _HIGHEST, _FARTHEST = -0.5, 2.0, 1.5
_NEAREST: Final[float] = 0.01
"""Body heights between two places of a shape, from which they are told apart."""
# What the validators of a whole ask, as the contract tells it.
NULL: Final[dict[str, JsonValue]] = {"type": "null"}
GIVEN: Final[dict[str, JsonValue]] = {"not": NULL}


def _in_reach(place: tuple[float, float]) -> tuple[float, float]:
    x, y = place
    if not (-_FARTHEST <= x <= _FARTHEST and _LOWEST <= y <= _HIGHEST):
        raise PydanticCustomError(
            "out_of_reach",
            "lies out of the picture: x goes from {left} to {right} and y from {low} to {high}, "
            "in body heights from the middle of the feet",
            {"left": -_FARTHEST, "right": _FARTHEST, "low": _LOWEST, "high": _HIGHEST},
        )
    return place


def _number(lowest: float, highest: float) -> Any:
    """Bounds for the contract alone: :func:`_in_reach` tells of them in better words."""
    bounds: dict[str, JsonValue] = {"minimum": lowest, "maximum": highest}
    return Field(strict=True, allow_inf_nan=False, json_schema_extra=bounds)


_X = Annotated[float, _number(-_FARTHEST, _FARTHEST)]
_Y = Annotated[float, _number(_LOWEST, _HIGHEST)]
_Place = Annotated[tuple[_X, _Y], AfterValidator(_in_reach)]


def _points(kind: ShapeKind) -> JsonValue:
    return {"minItems": kind.n_points, "maxItems": kind.n_points}


def _is(kind: ShapeKind) -> JsonValue:
    return {"properties": {"shape": {"const": kind.value}}}


_SHAPE_RULE: Final[dict[str, JsonValue]] = {
    "if": _is(ShapeKind.CIRCLE),
    "then": {
        "properties": {"points": _points(ShapeKind.CIRCLE), "radius": GIVEN},
        "required": ["radius"],
    },
    "else": {
        "properties": {"radius": NULL},
        "if": _is(ShapeKind.LINE),
        "then": {"properties": {"points": _points(ShapeKind.LINE)}},
        "else": {"properties": {"points": _points(ShapeKind.ANGLE)}},
    },
}


class ShapeBody(Body):
    """A shape over the picture of a position.

    Places are [x, y] in body heights from the middle of the feet at address: x to the right of
    the picture, y up, so that 1 is about the top of the head.
    """

    model_config = ConfigDict(json_schema_extra=_SHAPE_RULE)

    shape: ShapeKind
    points: Annotated[list[_Place], Field(min_length=1, max_length=3)] = Field(
        description="Of a line its two ends, of an angle end, corner and end, of a circle the "
        "middle."
    )
    radius: float | None = Field(
        default=None,
        gt=0,
        le=1,
        strict=True,
        allow_inf_nan=False,
        description="Of a circle, in body heights.",
    )
    label: (
        Annotated[
            str,
            StringConstraints(
                strip_whitespace=True,
                min_length=1,
                max_length=MOST_LABEL,
                pattern=r"^[^\x00-\x1f]*$",
            ),
        ]
        | None
    ) = None

    @model_validator(mode="after")
    def _whole(self) -> ShapeBody:
        wanted = self.shape.n_points
        if len(self.points) != wanted:
            raise PydanticCustomError(
                "wrong_points",
                "is a {shape} and needs {wanted} points, not {got}",
                {"shape": self.shape.value, "wanted": wanted, "got": len(self.points)},
            )
        if (self.radius is not None) != (self.shape is ShapeKind.CIRCLE):
            raise PydanticCustomError("radius", "should have a radius exactly when it is a circle")
        for (x, y), (u, v) in zip(self.points, self.points[1:], strict=False):
            if abs(x - u) < _NEAREST and abs(y - v) < _NEAREST:
                raise PydanticCustomError("same_points", "has two points in the same place")
        return self


class ShapeAnswer(Answer):
    """A shape over the picture of a position; places as they were sent."""

    shape: ShapeKind = Field(validation_alias="kind")
    points: list[tuple[float, float]]
    radius: float | None
    label: str | None
