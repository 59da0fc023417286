"""Swings of an archive kept in the service's records, once however often a run is resumed.

Players, lessons and swings get ids that follow from the results, from where a swing stands in the
archive and from what it is, so that what is there already is seen; what has changed is kept anew.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from functools import lru_cache
from typing import Final

from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from service.analysis.types import SwingAnalysis
from service.archive.files.fingerprints import fingerprint
from service.archive.rows import Kept, swing_key
from service.intake.many.reading import ReadSwing
from service.records import Database, NewSwing, Player, RecordNotFound, Role
from service.records.access.sessions import Behalf
from service.records.errors import ConsentMissing
from service.records.identity import stable_id
from service.records.keeping import lessons, players, swings
from service.use_cases.archive.columns import REFERENCE
from service.use_cases.keep import provenance, told_against_record

TITLE: Final[str] = "From the archive"
"""Of the lesson that gets a player's swings of one day."""

_TRIES: Final[int] = 5
_MOST_NAME: Final[int] = 200


@dataclass(frozen=True)
class Keeping:
    """How swings are kept.

    Attributes
    ----------
    by
        The carried column with the player's name, or ``client_reference``.
    results
        Name of the results.
    behalf
        The academy whose records they become, and whether it takes consent.
    since_ms, day_ms
        When the results and their present plan were begun: where a row has no ``recorded_at`` or
        ``date``, the day of the plan is the lesson's.
    """

    by: str
    database_url: str
    behalf: Behalf
    results: str
    since_ms: int
    day_ms: int


def keep_chunk(
    keeping: Keeping, read: Sequence[ReadSwing], analyses: Sequence[SwingAnalysis | Exception]
) -> list[Kept]:
    """Keep some swings in one transaction, but for those that are kept already.

    Raises
    ------
    RecordsUnavailable
        When the database fails; then none of them is kept, or all are.
    """
    for last in (*([False] * (_TRIES - 1)), True):
        try:
            with _database(keeping.database_url).on_behalf(keeping.behalf).writing() as session:
                ids = [_swing_id(keeping, swing) for swing in read]
                there = swings.kept_of(session, ids)
                return [
                    Kept(swing_id)
                    if swing_id in there
                    else _keep(session, keeping, swing_id, *each)
                    for swing_id, each in zip(ids, zip(read, analyses, strict=True), strict=True)
                ]
        except IntegrityError:  # another process was faster with the same player or lesson
            if last:
                raise
    raise AssertionError


def _keep(
    session: Session,
    keeping: Keeping,
    swing_id: str,
    swing: ReadSwing,
    analysis: SwingAnalysis | Exception,
) -> Kept:
    reference = swing.request.client_reference
    name = reference if keeping.by == REFERENCE else swing.carried.get(keeping.by)
    if isinstance(analysis, Exception) or not analysis.swing_found:
        return Kept(reason="no_swing")
    if not name or not name.strip() or len(name) > _MOST_NAME or "\0" in name:
        return Kept(reason="no_player_name")
    try:
        when = _when(keeping, swing)
    except ValueError:
        return Kept(reason="date_not_read")
    try:
        player = _player(session, keeping, name.strip())
        if player is None:
            return Kept(reason="several_players_of_that_name")
        players.require_consent(session, player)
    except ConsentMissing:
        return Kept(reason="no_consent")
    lesson_id = _lesson(session, keeping, player, when.date())
    new = NewSwing(when, Role.OTHER, reference and reference.replace("\0", ""), swing.body or b"")
    told = told_against_record(analysis, player)
    swings.add(session, lesson_id, new, told, provenance(told), swing_id)
    return Kept(swing_id)


def _player(session: Session, keeping: Keeping, name: str) -> Player | None:
    found = players.of_name(session, name)
    if not found:
        return players.add(session, name, record_id=_id(keeping, "player", name))
    return found[0] if len(found) == 1 else None


def _lesson(session: Session, keeping: Keeping, player: Player, day: date) -> str:
    lesson_id = _id(keeping, "lesson", player.id, day.isoformat())
    try:
        return lessons.get(session, lesson_id).id
    except RecordNotFound:
        return lessons.add(session, player.id, day, TITLE, record_id=lesson_id).id


def _when(keeping: Keeping, swing: ReadSwing) -> datetime:
    """When a swing was made, as its row says; a day stands for its noon.

    Raises
    ------
    ValueError
        When what the row says is no time and no day.
    """
    if told := swing.carried.get("recorded_at"):
        when = datetime.fromisoformat(told)
        return when if when.tzinfo else when.replace(tzinfo=UTC)
    if told := swing.carried.get("date"):
        return datetime.combine(date.fromisoformat(told), time(12), UTC)
    return datetime.fromtimestamp(keeping.day_ms / 1000, UTC)


def _swing_id(keeping: Keeping, swing: ReadSwing) -> str:
    content = fingerprint(swing.body or b"")
    return _id(keeping, "swing", swing_key(swing.origin), f"{content:x}")


def _id(keeping: Keeping, *names: str) -> str:
    return stable_id(keeping.since_ms, keeping.results, *names)


@lru_cache(maxsize=2)
def _database(url: str) -> Database:
    """Opened once a process."""
    return Database(url, connections=1)
