"""Players: keep, find, change, delete."""

from __future__ import annotations

from collections.abc import Mapping

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from service.analysis.types import Handedness
from service.records import _rows
from service.records.entities import Consent, Player
from service.records.identity import new_id
from service.records.keeping.consent import check
from service.records.paging import Page, Window
from service.records.tables import PlayerRow


def add(
    session: Session,
    name: str,
    handedness: Handedness | None = None,
    note: str | None = None,
    birth_year: int | None = None,
    consent: Consent | None = None,
    *,
    height_cm: float | None = None,
    training_consent: bool = False,
    record_id: str | None = None,
) -> Player:
    """Keep a new player, with an id of its own unless it is given one.

    Raises
    ------
    ConsentMissing
        When that takes consent and there is none.
    """
    check(session, consent, birth_year)
    row = PlayerRow(
        id=record_id or new_id(),
        name=name,
        handedness=handedness,
        note=note,
        birth_year=birth_year,
        training_consent=training_consent,
        created=_rows.now(),
        version=1,
        height_cm=height_cm,
        **_columns({"consent": consent}),
    )
    session.add(row)
    session.flush()
    return _player(row)


def get(session: Session, player_id: str) -> Player:
    """One player, or :class:`~service.records.errors.RecordNotFound`."""
    return _player(_rows.require(session, PlayerRow, player_id))


def fetch_page(session: Session, window: Window, name: str | None = None) -> Page[Player]:
    """Some of the players.

    Parameters
    ----------
    name
        Part of the name, whatever its capitals; any name when ``None``.
    """
    query = select(PlayerRow)
    if name is not None:
        folded = func.lower(PlayerRow.name)
        query = query.where(folded.contains(name.lower(), autoescape=True))
    return _rows.page(session, query, PlayerRow.id, window, _player)


def of_name(session: Session, name: str) -> list[Player]:
    """The players of just this name; of several the first two."""
    query = select(PlayerRow).where(PlayerRow.name == name).order_by(PlayerRow.id)
    return [_player(row) for row in session.scalars(query.limit(2))]


def change(
    session: Session, player_id: str, changes: Mapping[str, object], expected: _rows.Expected
) -> Player:
    """Set some fields of a player.

    Raises
    ------
    RecordNotFound, StaleVersion
    """
    columns = _columns(changes)
    return _player(_rows.alter(session, PlayerRow, player_id, columns, expected))


def delete(session: Session, player_id: str, expected: _rows.Expected = None) -> None:
    """Delete a player with every lesson, swing, analysis and finding.

    Raises
    ------
    RecordNotFound, StaleVersion
    """
    _rows.drop(session, PlayerRow, player_id, expected)


def require_consent(session: Session, player: Player) -> None:
    """Make sure that something may be kept of a player.

    Raises
    ------
    ConsentMissing
        When that takes consent and there is none.
    """
    check(session, player.consent, player.birth_year)


def consent_of(row: PlayerRow) -> Consent | None:
    """The consent that is kept of a player."""
    if row.consent_given_on is None or row.consent_by is None:
        return None
    return Consent(row.consent_given_on, row.consent_by)


def _columns(changes: Mapping[str, object]) -> dict[str, object]:
    """The same fields as the table has them, with the consent in two columns."""
    columns = dict(changes)
    if "consent" in columns:
        consent = columns.pop("consent")
        given = consent if isinstance(consent, Consent) else None
        columns["consent_given_on"] = given and given.given_on
        columns["consent_by"] = given and given.by
    return columns


def _player(row: PlayerRow) -> Player:
    return Player(
        id=row.id,
        name=row.name,
        handedness=row.handedness,
        note=row.note,
        birth_year=row.birth_year,
        consent=consent_of(row),
        created=row.created,
        version=row.version,
        height_cm=row.height_cm,
        training_consent=row.training_consent,
    )
