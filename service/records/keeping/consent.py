"""Without consent nothing is kept of a player; a minor's is a guardian's to give.

What counts as consent, and from which age a player may give it, is law that differs from place to
place; eighteen years is the age of majority in most (from memory, no source consulted).
"""

from __future__ import annotations

from datetime import date
from typing import Final

from sqlalchemy.orm import Session

from service.records.access.sessions import AcademySession
from service.records.entities import Consent, ConsentBy
from service.records.errors import ConsentMissing

OF_AGE: Final[int] = 18
"""Years from which a player consents without a guardian."""


def check(session: Session, consent: Consent | None, birth_year: int | None) -> None:
    """Make sure that a player's data may be kept, where that takes consent.

    Raises
    ------
    ConsentMissing
        When nobody consented, or the player without being known to be of age.
    """
    if not isinstance(session, AcademySession) or not session.behalf.needs_consent:
        return
    if consent is None:
        raise ConsentMissing("There is no consent to keeping this player's data.")
    if consent.by is ConsentBy.PLAYER and not surely_of_age(birth_year, date.today()):
        raise ConsentMissing(
            "The player consented, but is a minor or of unknown age, so that a guardian must."
        )


def surely_of_age(birth_year: int | None, today: date) -> bool:
    """Whether a player has come of age, on whatever day of the year the birthday is.

    >>> surely_of_age(2000, date(2018, 12, 31)), surely_of_age(2000, date(2019, 1, 1))
    (False, True)
    """
    return birth_year is not None and today.year - birth_year > OF_AGE
