"""The lines of one item: analysed together, and kept where they are to be."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime

from sqlalchemy.orm import Session

from service.records import ConsentMissing, Database, NewSwing, Player
from service.records.batches.entities import Batch
from service.records.keeping import lessons, players, swings
from service.report.clip import Clip
from service.use_cases.analyse import Analyser
from service.use_cases.batches.lines import reference_in
from service.use_cases.keep import provenance, refuse_nul, told_against_record


@dataclass(frozen=True)
class Input:
    """One line, or one file.

    Attributes
    ----------
    line
        Its number in the batch, from 1.
    text
        The request as JSON text.
    path, path_line
        The file it stands in, and its line there where that has several.
    error
        Why there is nothing to analyse.
    """

    line: int
    text: bytes
    path: str | None = None
    path_line: int | None = None
    error: Exception | None = None


@dataclass(frozen=True)
class Done:
    """What became of one line: an analysis, or why there is none.

    Attributes
    ----------
    swing_id
        As which it is kept, where it is.
    """

    input: Input
    clip: Clip | None = None
    error: Exception | None = None
    swing_id: str | None = None

    @property
    def reference(self) -> str | None:
        """The caller's own, told of a broken line too."""
        return reference_in(self.input.text) if self.clip is None else self.clip.reference


def do_inputs(
    database: Database, analyser: Analyser, batch: Batch, inputs: Sequence[Input]
) -> list[Done]:
    """Analyse some lines, each for itself.

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
                return [Done(each, error=error) for each in inputs]
    clips = iter(analyser.analyse_bodies([each.text for each in inputs if each.error is None]))
    done = [_done(each, each.error or next(clips)) for each in inputs]
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


def _done(given: Input, came: Clip | Exception) -> Done:
    if isinstance(came, Exception):
        return Done(given, error=came)
    return Done(given, came)


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
    recorded_at = batch.recorded_at or datetime.now(UTC)
    new = NewSwing(recorded_at, batch.role, clip.reference, done.input.text.strip())
    kept = swings.add(session, lesson_id, new, clip.analysis, provenance(clip.analysis))
    return replace(done, swing_id=kept.meta.id)
