"""How often each fault shows among kept swings."""

from __future__ import annotations

from typing import Final

from sqlalchemy.orm import Session

from service.lessons.rates import Counts, Summary
from service.records import SwingFilter
from service.records.keeping.rates import GroupBy, count_clips, count_findings, more_than

MOST_SWINGS: Final[int] = 50_000
"""Swings summed up in one answer, so that none takes the database for long."""

MOST_GROUPS: Final[int] = 40


class TooManySwings(ValueError):
    """More swings are wanted than one answer sums up."""


def summary_of_kept(session: Session, wanted: SwingFilter, by: GroupBy | None) -> Summary:
    """Fault rates of kept swings by their newest analyses.

    Raises
    ------
    TooManySwings
        When there are more than :data:`MOST_SWINGS`.
    """
    if more_than(session, wanted, MOST_SWINGS):
        raise TooManySwings(f"leaves more than {MOST_SWINGS:,} swings")
    counts = Counts()
    for clips in count_clips(session, wanted, by):
        counts.add_clips(*clips)
    for findings in count_findings(session, wanted, by):
        counts.add_findings(*findings)
    return counts.summary(by, MOST_GROUPS)
