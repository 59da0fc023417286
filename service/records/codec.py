"""An analysis as JSON and back, so that any later version can read what was found.

Members that a later version adds must have a default to be read from older records;
members that it drops are passed over.
"""

from __future__ import annotations

import math
from typing import Final, get_type_hints

import numpy as np
from pydantic import TypeAdapter
from pydantic_core import from_json, to_json

from service.analysis.types import Club, Intent, SwingAnalysis
from service.lessons.coach.approval import Approval
from service.records.entities import KeptAnalysis, Lesson, Player, Swing
from service.records.reviews.entities import KeptEdits, ReviewEntry

_ARRAYS: Final[tuple[str, ...]] = ("coordinate", "times")
_MEMBERS: Final[dict[str, TypeAdapter[object]]] = {
    name: TypeAdapter(hint)
    for name, hint in get_type_hints(SwingAnalysis).items()
    if name not in _ARRAYS
}


Kept = (
    SwingAnalysis
    | KeptAnalysis
    | Player
    | Lesson
    | Swing
    | KeptEdits
    | list[Approval]
    | list[ReviewEntry]
)
"""What has a form in JSON."""


def encode(record: Kept) -> bytes:
    """JSON text of an analysis or of anything else kept; NaN in an array is null there."""
    return to_json(record, inf_nan_mode="strings", fallback=_as_list)


def decode(text: bytes | str, intent: Intent, club: Club | None) -> SwingAnalysis:
    """The analysis that was encoded, equal to it in every number.

    Parameters
    ----------
    intent, club
        What the swing was, for analyses of versions that did not tell it; their ``times`` are
        left empty.

    Raises
    ------
    ValueError
        When the text is no encoded analysis.
    """
    raw = {"intent": intent, "club": club, "times": [], **from_json(text)}
    members = {
        name: adapter.validate_python(raw[name])
        for name, adapter in _MEMBERS.items()
        if name in raw
    }
    arrays = {name: np.array(raw[name], dtype=np.float64) for name in _ARRAYS if name in raw}
    return SwingAnalysis(**members, **arrays)  # type: ignore[arg-type] # just validated


def _as_list(array: object) -> list[float | None]:
    """Flat array to a list; anything else that JSON lacks is a mistake."""
    if not isinstance(array, np.ndarray):
        raise TypeError(f"{type(array).__name__} has no form in JSON")
    return [None if math.isnan(value) else value for value in array.tolist()]
