"""The figures of a reason: read out of its English sentence, so that any language can tell them.

A reason carries that sentence alone, and so does every answer that was ever kept. The sentences
that hold figures have the forms below.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Final

from service.analysis.types import Reason
from service.languages import sayable

_NOT_FOUND: Final = sayable("{measure} needs P{number}, which was not found.")
_FORMS: Final[Mapping[str, tuple[str, ...]]] = {
    "too_uncertain": (
        sayable(
            "{measure}: {value} ± {error} {unit} is too uncertain to judge, as the fault begins "
            "at {threshold}; it takes less than ± {limit}."
        ),
        sayable(
            "{measure}: {value} ± {error} {unit} is too uncertain to judge; "
            "it takes less than ± {limit}."
        ),
        sayable("{measure}: {value} ± {error} {unit} is too uncertain to judge."),
        sayable("The end of the backswing, P{value} ± {error}, is too uncertain to tell."),
    ),
    "frame_rate": (
        sayable(
            "Hardly a frame falls between {start} and {end}; "
            "film at {rate} frames a second or more."
        ),
        sayable(
            "Only one frame falls between {start} and {end}; "
            "film at {rate} frames a second or more."
        ),
        sayable(
            "Only about {count} frames fall between {start} and {end}; "
            "film at {rate} frames a second or more."
        ),
    ),
    "points_not_seen": (sayable("Not seen well enough for this: {points}."),),
    "points_too_close": (sayable("{measure} has no clear value in this picture at {place}."),),
    "position_inferred": (
        sayable("{measure} needs P{number} to be seen; the clip may start after it."),
    ),
    "view": (
        sayable("This can only be seen {views}; the clip is {view}."),
        sayable("{measure} can only be told {views}."),
    ),
    "one_side_only": (sayable("Seen from one side only: found {views}, not found {others}."),),
    "swings_differ": (sayable("The swings differ: found in {some}, not found in {others}."),),
}
"""By the code of the reason. What is not among them is told without figures."""
_SIDES: Final = (sayable("Before"), sayable("After"), sayable("Rehearsal"))
_SIDE: Final = re.compile(rf"(?:({'|'.join(_SIDES)}): )?(.+)", re.DOTALL)
_THEREFORE: Final = re.compile(r"(.+? which was not found\.)(?: (.+))?", re.DOTALL)


@dataclass(frozen=True)
class Figured:
    """A reason taken apart.

    Attributes
    ----------
    form
        The English sentence with ``{name}`` for each part.
    parts
        What stands for each name, in English.
    side
        ``Before``, ``After`` or ``Rehearsal`` where it is about one side of a comparison.
    why
        The sentence that follows: why a position was not found.
    """

    form: str
    parts: Mapping[str, str]
    side: str | None = None
    why: str | None = None


def figured(reason: Reason) -> Figured | None:
    """The figures of a reason; ``None`` where its sentence has none that are known.

    >>> figured(Reason("too_uncertain", "Tempo: 2.5 ± 0.3 times is too uncertain to judge.")).parts
    {'measure': 'Tempo', 'value': '2.5', 'error': '0.3', 'unit': 'times'}
    """
    side, text = _parted(_SIDE, reason.text)
    for form in _FORMS.get(reason.code, ()):
        found = _pattern(form).fullmatch(text or "")
        if found:
            return Figured(form, found.groupdict(), side)
    sentence, why = _parted(_THEREFORE, text or "")
    found = _pattern(_NOT_FOUND).fullmatch(sentence or "")
    return Figured(_NOT_FOUND, found.groupdict(), side, why) if found else None


def _parted(pattern: re.Pattern[str], text: str) -> tuple[str | None, str | None]:
    found = pattern.fullmatch(text)
    return (found[1], found[2]) if found else (None, None)


@cache
def _pattern(form: str) -> re.Pattern[str]:
    return re.compile(re.sub(r"\\\{(\w+)\\\}", r"(?P<\1>.+?)", re.escape(form)), re.DOTALL)
