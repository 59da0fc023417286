"""Players: keep, find, change, delete."""

from __future__ import annotations

from collections.abc import Mapping

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from service.analysis.types import Handedness
from service.records import _rows
from service.records.entities import Player
from service.records.identity import new_id
from service.records.paging import Page, Window
from service.records.tables import PlayerRow


def add(
    session: Session,
    name: str,
    handedness: Handedness | None = None,
    note: str | None = None,
    height_cm: float | None = None,
    *,
    training_consent: bool = False,
    record_id: str | None = None,
) -> Player:
    """Keep a new player, with an id of its own unless it is given one."""
    row = PlayerRow(
        id=record_id or new_id(),
        name=name,
        handedness=handedness,
        note=note,
        training_consent=training_consent,
        created=_rows.now(),
        version=1,
        height_cm=height_cm,
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
    return _player(_rows.alter(session, PlayerRow, player_id, changes, expected))


def delete(session: Session, player_id: str, expected: _rows.Expected = None) -> None:
    """Delete a player with every lesson, swing, analysis and finding.

    Raises
    ------
    RecordNotFound, StaleVersion
    """
    _rows.drop(session, PlayerRow, player_id, expected)


def _player(row: PlayerRow) -> Player:
    return Player(
        row.id,
        row.name,
        row.handedness,
        row.note,
        row.created,
        row.version,
        row.height_cm,
        training_consent=row.training_consent,
    )
