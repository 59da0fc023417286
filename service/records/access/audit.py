"""Who read or changed what of whom; no measurements, and no names but the ids.

A change and its entry are kept together or not at all. Readings are written down a moment later by
a thread, many at once, so that no reader waits for the disk: those of the last moment before a
process is killed, and those while the database takes no writes, are lost.
"""

from __future__ import annotations

import json
import logging
import queue
import threading
from collections.abc import Callable, Iterable, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby
from typing import Final

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.records import _rows
from service.records.access.sessions import AcademySession, Behalf, Caller
from service.records.entities import AuditAction
from service.records.errors import RecordsError
from service.records.identity import new_id
from service.records.paging import Page, Window
from service.records.tables import AuditRow, LessonRow

_MOST_IDS: Final[int] = 100
"""Ids of one kind that an entry tells; of a page of a list there are no more."""

_MOST_WAITING: Final[int] = 10_000
_AT_ONCE: Final[int] = 200
_PAUSE: Final[float] = 0.5
"""Seconds for which readings are gathered before they are written down."""

_LAST_WAIT: Final[float] = 3.0
"""Seconds that closing waits for the last readings to be written down."""

_log = logging.getLogger(__name__)

_Rows = dict[tuple[str, str], str | None]


@dataclass(frozen=True)
class AuditEntry:
    """One thing that somebody did.

    Attributes
    ----------
    key_prefix
        Start of the key that was used; ``None`` in open mode.
    omitted
        How many more ids there were than are told.
    """

    id: str
    at: datetime
    key_prefix: str | None
    request_id: str
    method: str
    route: str
    action: AuditAction
    player_ids: list[str]
    lesson_ids: list[str]
    swing_ids: list[str]
    omitted: int


def fetch_page(session: Session, window: Window, player_id: str | None = None) -> Page[AuditEntry]:
    """Some of the entries, of one player, or of all when ``None``, in the order in which they were
    written down, so that what was read before a change can stand after it."""
    query = select(AuditRow)
    if player_id is not None:
        query = query.where(AuditRow.subjects.contains(player_id, autoescape=True))
    return _rows.page(session, query, AuditRow.id, window, _entry)


def note_change(session: AcademySession) -> None:
    """Add to a transaction the entry that tells what it changed."""
    rows, caller = session.touched.rows, session.behalf.caller
    if caller is not None and rows:
        players = _players(session, [rows])
        session.add(_row(caller, AuditAction.CHANGED, _rows.now(), rows, players))
        session.flush()


class AuditTrail:
    """Writes down who read what, in a thread of its own.

    Parameters
    ----------
    writing
        Gives a session of the database it is kept in, on somebody's behalf, whose changes are kept
        at its end.
    """

    def __init__(self, writing: Callable[[Behalf], AbstractContextManager[AcademySession]]) -> None:
        self._writing = writing
        self._waiting: queue.Queue[_Reading | None] = queue.Queue(_MOST_WAITING)
        self._writer: threading.Thread | None = None
        self._lock = threading.Lock()
        self._closed = threading.Event()

    def note_reading(self, session: AcademySession) -> None:
        """Have it written down what a session read."""
        touched, behalf = session.touched, session.behalf
        if behalf.caller is None or not (touched.rows or touched.other):
            return
        try:
            self._waiting.put_nowait(_Reading(behalf, _rows.now(), touched.rows))
        except queue.Full:
            _log.error("a reading is missing in the audit: too many wait to be written down")
            return
        with self._lock:
            if self._writer is None:
                self._writer = threading.Thread(target=self._write, name="audit", daemon=True)
                self._writer.start()

    def close(self) -> None:
        """Write the last ones down, as far as the database lets it."""
        self._closed.set()
        with self._lock:
            writer, self._writer = self._writer, None
        if writer is not None:
            self._waiting.put(None)
            writer.join(_LAST_WAIT)

    def _write(self) -> None:
        while True:
            readings = self._next()
            if readings:
                self._keep(readings)
            if self._closed.is_set() and self._waiting.empty():
                return

    def _next(self) -> list[_Reading]:
        """What waits, once there is something."""
        gathered = [self._waiting.get()]
        self._closed.wait(_PAUSE)
        while len(gathered) < _AT_ONCE:
            try:
                gathered.append(self._waiting.get_nowait())
            except queue.Empty:
                break
        return [reading for reading in gathered if reading is not None]

    def _keep(self, readings: Sequence[_Reading]) -> None:
        ordered = sorted(readings, key=_academy)
        for academy_id, of_one in groupby(ordered, key=_academy):
            same = list(of_one)
            try:
                with self._writing(Behalf(academy_id)) as session:
                    players = _players(session, [each.rows for each in same])
                    session.add_all(each.row(players) for each in same)
            except RecordsError as error:
                _log.error("%d readings are missing in the audit: %s", len(same), error)


@dataclass(frozen=True)
class _Reading:
    behalf: Behalf
    at: datetime
    rows: _Rows

    def row(self, players: dict[str, str]) -> AuditRow:
        assert self.behalf.caller is not None
        return _row(self.behalf.caller, AuditAction.READ, self.at, self.rows, players)


def _academy(reading: _Reading) -> str:
    return reading.behalf.academy_id


def _players(session: Session, several: Iterable[_Rows]) -> dict[str, str]:
    """The player of every lesson that rows speak of, by the lesson's id."""
    rows = [(kind, row_id, owner) for each in several for (kind, row_id), owner in each.items()]
    found = {row_id: owner for kind, row_id, owner in rows if kind == "lesson" and owner}
    lessons = {row_id for kind, row_id, _ in rows if kind == "lesson"}
    lessons |= {owner for kind, _, owner in rows if kind == "swing" and owner}
    if missing := lessons - found.keys():
        query = select(LessonRow.id, LessonRow.player_id).where(LessonRow.id.in_(missing))
        found.update((row.id, row.player_id) for row in session.execute(query))
    return found


def _row(
    caller: Caller, action: AuditAction, at: datetime, rows: _Rows, players: dict[str, str]
) -> AuditRow:
    lessons = {i: None for kind, i in rows if kind == "lesson"}
    lessons |= {owner: None for (kind, _), owner in rows.items() if kind == "swing" and owner}
    subjects = {
        "player": {i: None for kind, i in rows if kind == "player"}
        | {players[lesson]: None for lesson in lessons if lesson in players},
        "lesson": lessons,
        "swing": {i: None for kind, i in rows if kind == "swing"},
    }
    told = {kind: list(ids)[:_MOST_IDS] for kind, ids in subjects.items()}
    return AuditRow(
        id=new_id(),
        at=at,
        key_prefix=caller.key_prefix,
        request_id=caller.request_id,
        method=caller.method,
        route=caller.route,
        action=action,
        subjects=json.dumps(told),
        omitted=sum(map(len, subjects.values())) - sum(map(len, told.values())),
    )


def _entry(row: AuditRow) -> AuditEntry:
    told = json.loads(row.subjects)
    return AuditEntry(
        id=row.id,
        at=row.at,
        key_prefix=row.key_prefix,
        request_id=row.request_id,
        method=row.method,
        route=row.route,
        action=row.action,
        player_ids=told["player"],
        lesson_ids=told["lesson"],
        swing_ids=told["swing"],
        omitted=row.omitted,
    )
