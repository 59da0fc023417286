"""Why swings could not be compared at all."""

from __future__ import annotations

from typing import ClassVar


class NotComparable(ValueError):
    """Raised when nothing at all can be said about a set of swings together.

    What only some measures or faults lack is no exception; it is told by them with a
    reason. ``code`` is stable, the message is a sentence for the reader.
    """

    code: ClassVar[str] = "not_comparable"


class TooFewSwings(NotComparable):
    """Raised when a side of the comparison has no swing."""

    code = "too_few_swings"


class NoSwingFound(NotComparable):
    """Raised when one of the clips holds no golf swing."""

    code = "no_swing_found"


class DifferentViews(NotComparable):
    """Raised when the clips were filmed from different views."""

    code = "different_views"


class WrongIntent(NotComparable):
    """Raised when a rehearsal was given for a swing at full speed or the other way round."""

    code = "wrong_intent"
