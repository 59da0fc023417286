"""What a name that nobody knows may have been meant for."""

from __future__ import annotations

import re
from collections.abc import Iterable
from difflib import get_close_matches
from typing import Final

_CLOSE: Final[float] = 0.7
"""How alike two names must be, from 0 to 1, for one to be a slip for the other."""
_LONGEST: Final[int] = 100
"""Letters of a name beyond which it is no slip for anything."""


def plain_name(name: str) -> str:
    """A name without what is easily mistyped: capitals, hyphens, spaces and underscores.

    >>> plain_name("L-Shoulder"), plain_name("face on")
    ('lshoulder', 'faceon')
    """
    return re.sub(r"[\s_\-]", "", name).lower()


def did_you_mean(name: str, known: Iterable[str]) -> str:
    """The end of a sentence that offers the nearest of the known names, if one is near.

    >>> did_you_mean("faceon", ["face_on", "down_the_line"])
    '; did you mean face_on?'
    >>> did_you_mean("sideways", ["face_on", "down_the_line"])
    ''
    """
    if len(name) > _LONGEST:
        return ""
    spellings = {plain_name(each): each for each in known}
    close = get_close_matches(plain_name(name), spellings, n=1, cutoff=_CLOSE)
    return f"; did you mean {spellings[close[0]]}?" if close else ""
