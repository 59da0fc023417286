"""How long a backswing was asked to be, against how long it was."""

from __future__ import annotations

from enum import StrEnum
from typing import Final

from service.analysis.types import StoppedAt

_CLOSE: Final[float] = 0.2
"""Of a position: nearer to what was asked is as asked (common practice: what a coach would let
pass)."""


class Length(StrEnum):
    """A backswing against what was asked of it."""

    AS_ASKED = "as asked"
    LONGER = "longer than asked"
    SHORTER = "shorter than asked"
    CANNOT_TELL = "can't be told"


def against_asked(stopped: StoppedAt) -> Length:
    """Whether a backswing stopped where it was asked to, as far as that can be told.

    Longer or shorter is only what is so beyond one standard deviation.

    >>> against_asked(StoppedAt(3.5, 3.9, 0.1)).value
    'longer than asked'
    >>> against_asked(StoppedAt(3.5, 3.75, 0.1)).value
    'as asked'
    """
    if stopped.value is None:
        return Length.CANNOT_TELL
    off = stopped.value - stopped.asked
    if abs(off) <= _CLOSE + (stopped.uncertainty or 0.0):
        return Length.AS_ASKED
    return Length.LONGER if off > 0.0 else Length.SHORTER
