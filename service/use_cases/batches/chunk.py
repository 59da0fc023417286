"""The swings of one item: analysed together, and kept where they are to be."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime

from sqlalchemy.orm import Session

from service.analysis.types import SwingAnalysis
from service.intake.many.reading import ReadSwing, Refused
from service.records import ConsentMissing, Database, NewSwing, Player
from service.records.batches.entities import Batch
from service.records.keeping import lessons, players, swings
from service.report.clip import Clip
from service.use_cases.analyse import Analyser
from service.use_cases.batches.sources.items import Place
from service.use_cases.keep import provenance, refuse_nul, told_against_record

Read = Callable[[], Iterable[ReadSwing | Refused]]
"""Reads the swings at the places of an item."""


@dataclass(frozen=True)
class Done:
    """What became of one line: an analysis, or why there is none.

    Attributes
    ----------
    reference
        The caller's own, told of a broken line too.
    carried
        What else its file says of it, by name.
    body
        The request as JSON text, where it is to be kept.
    swing_id
        As which it is kept, where it is.
    """

    place: Place
    reference: str | None = None
    clip: Clip | None = None
    error: Exception | None = None
    carried: Mapping[str, str] = field(default_factory=dict)
    body: bytes | None = None
    swing_id: str | None = None


def do_item(
    database: Database, analyser: Analyser, batch: Batch, places: Sequence[Place], read: Read
) -> list[Done]:
    """Analyse the swings of an item, each for itself.

    Raises
    ------
    RecordNotFound
        When the lesson in which they are to be kept is gone.
    """
    player = None
    if batch.lesson_id is not None:
        with database.reading() as session:
            player = players.get(session, lessons.get(session, batch.lesson_id).player_id)
            try:
                players.require_consent(session, player)
            except ConsentMissing as error:
                return [Done(place, error=error) for place in places]
    done = _analysed(analyser, places, list(read()))
    return [_to_keep(each, player) for each in done] if player is not None else done


def keep_done(session: Session, batch: Batch, done: Sequence[Done]) -> list[Done]:
    """Keep the swings that were analysed, where the batch says so.

    Raises
    ------
    RecordNotFound
        When the lesson is gone.
    """
    if batch.lesson_id is None:
        return list(done)
    return [_keep(session, batch, batch.lesson_id, each) for each in done]


def _analysed(
    analyser: Analyser, places: Sequence[Place], read: Sequence[ReadSwing | Refused]
) -> list[Done]:
    good = [swing for swing in read if isinstance(swing, ReadSwing)]
    analyses = iter(analyser.analyse_each([swing.recording for swing in good]))
    return [
        Done(place, swing.reference, error=swing.error)
        if isinstance(swing, Refused)
        else _done(place, swing, next(analyses))
        for place, swing in zip(places, read, strict=True)
    ]


def _done(place: Place, swing: ReadSwing, found: SwingAnalysis | Exception) -> Done:
    if isinstance(found, Exception):
        return Done(place, swing.reference, error=found)
    clip = Clip(swing.reference, swing.recording, found)
    return Done(place, swing.reference, clip, carried=swing.carried, body=swing.body)


def _to_keep(done: Done, player: Player) -> Done:
    if done.clip is None:
        return done
    try:
        refuse_nul(done.clip.reference)
    except Exception as error:
        return replace(done, clip=None, error=error)
    clip = replace(done.clip, analysis=told_against_record(done.clip.analysis, player))
    return replace(done, clip=clip)


def _keep(session: Session, batch: Batch, lesson_id: str, done: Done) -> Done:
    clip = done.clip
    if clip is None:
        return done
    assert done.body is not None  # read so, as it was to be kept
    recorded_at = batch.recorded_at or datetime.now(UTC)
    new = NewSwing(recorded_at, batch.role, clip.reference, done.body)
    kept = swings.add(session, lesson_id, new, clip.analysis, provenance(clip.analysis))
    return replace(done, swing_id=kept.meta.id)
