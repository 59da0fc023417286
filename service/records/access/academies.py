"""Academies: make, find, list."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import or_, select
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from service.records import _rows
from service.records.errors import NameTaken, RecordNotFound
from service.records.identity import is_id, new_id
from service.records.tables import AcademyRow


@dataclass(frozen=True)
class Academy:
    """An academy."""

    id: str
    name: str
    created: datetime


def add(session: Session, name: str) -> Academy:
    """Make an academy.

    Raises
    ------
    NameTaken
        When there is one of that name.
    """
    row = AcademyRow(id=new_id(), name=name, created=_rows.now())
    session.add(row)
    try:
        session.flush()
    except IntegrityError:
        raise NameTaken(f"there is an academy named {name}") from None
    return _academy(row)


def find(session: Session, name_or_id: str) -> Academy:
    """The academy with a name or an id.

    Raises
    ------
    RecordNotFound
        When there is none.
    """
    same = [AcademyRow.name == name_or_id]
    if is_id(name_or_id):
        same.append(AcademyRow.id == name_or_id)
    row = session.scalars(select(AcademyRow).where(or_(*same))).first()
    if row is None:
        raise RecordNotFound("academy")
    return _academy(row)


def fetch_all(session: Session) -> list[Academy]:
    """Every academy, in the order in which they were made."""
    return [_academy(row) for row in session.scalars(select(AcademyRow).order_by(AcademyRow.id))]


def _academy(row: AcademyRow) -> Academy:
    return Academy(row.id, row.name, row.created)
