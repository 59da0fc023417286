"""Simulated swings as requests, and short ways to keep them."""

from __future__ import annotations

import dataclasses
import json
from datetime import UTC, date, datetime
from functools import cache

import numpy as np
from sqlalchemy import func, select

from service.analysis.pose.points import ANATOMICAL
from service.analysis.types import Club, SwingRecording, View
from service.intake.recording import Limits
from service.records import Database, KeptSwing, Lesson, Player, Role
from service.records.keeping import lessons, players
from service.records.tables import AuditRow, Base, OfAcademy
from service.report.clip import Clip
from service.use_cases.analyse import Analyser
from service.use_cases.keep import KeepSwing, keep_swing
from tests.swings import clip, random_clip
from training.simulator import FaultAmounts

RULES = Analyser(classifier=None, limits=Limits(12, 1000))
"""Analyses without a model: what these tests look at doesn't hang on one."""
DAY = date(2025, 5, 17)


def body_of(recording: SwingRecording, **changes: object) -> bytes:
    """A recording as the request that becomes it."""
    table = np.concatenate([recording.points, recording.confidence[..., None]], axis=-1).round(2)
    missing = np.isnan(table).any(axis=-1).tolist()
    request = {
        "layout": list(ANATOMICAL),
        "timestamps": recording.times.tolist(),
        "intent": recording.intent,
        "keypoints": [
            [None if gone else point for point, gone in zip(*frame, strict=True)]
            for frame in zip(table.tolist(), missing, strict=True)
        ],
    }
    return json.dumps({**request, **changes}).encode()


@cache
def swing_body(
    seed: int = 1,
    view: View = View.FACE_ON,
    club: Club | None = None,
    reference: str | None = None,
) -> bytes:
    """A swing of some golfer as a request."""
    _, recording = random_clip(seed, view, fps=60.0)
    return body_of(recording, view=view, club=club, client_reference=reference)


@cache
def faulty_body() -> bytes:
    """A swing whose elbows come far apart and whose backswing is long, as a request."""
    _, recording = clip(amounts=FaultAmounts(elbows_separate=1.2, long_backswing=1.2), fps=60.0)
    return body_of(recording, view=View.FACE_ON)


@cache
def still_body(reference: str | None = None) -> bytes:
    """A request without a swing in it."""
    _, recording = random_clip(1, View.FACE_ON, fps=60.0)
    still = np.repeat(recording.points[:1], 24, axis=0)
    seen = np.repeat(recording.confidence[:1], 24, axis=0)
    clip = dataclasses.replace(recording, points=still, confidence=seen, times=np.arange(24) / 60)
    return body_of(clip, client_reference=reference)


@cache
def analysed(body: bytes) -> Clip:
    """A request analysed without keeping it."""
    return RULES.analyse_body(body)


def rows_in(database: Database, table: type[Base]) -> int:
    """How many rows a table has."""
    with database.reading() as session:
        return session.scalar(select(func.count()).select_from(table)) or 0


def keep_player(database: Database, name: str = "Ada Fairway") -> Player:
    """Keep a player."""
    with database.writing() as session:
        return players.add(session, name)


def keep_lesson(database: Database, player: Player, day: date = DAY) -> Lesson:
    """Keep a lesson of a player."""
    with database.writing() as session:
        return lessons.add(session, player.id, day)


def keep(
    database: Database,
    lesson: Lesson,
    body: bytes | None = None,
    role: Role = Role.OTHER,
    minute: int = 0,
) -> KeptSwing:
    """Keep a swing of a lesson."""
    recorded_at = datetime(2025, 5, 17, 10, minute, tzinfo=UTC)
    wanted = KeepSwing(lesson.id, body or swing_body(), role, recorded_at)
    return keep_swing(database, RULES, wanted)


def counts(database: Database) -> dict[str, int]:
    """Rows of every table that holds something of players."""
    with database.connected() as connection:
        return {
            row.__tablename__: connection.scalar(select(func.count()).select_from(row)) or 0
            for row in OfAcademy.__subclasses__()
            if row is not AuditRow
        }
