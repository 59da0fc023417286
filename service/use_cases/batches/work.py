"""A worker: takes items, does them, keeps what came of them, until it is told to stop."""

from __future__ import annotations

import logging
import secrets
import socket
import threading
import time
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final, TypeVar

from service.intake.many.reading import Reader
from service.observing.metrics import Metrics
from service.records import Behalf, Database, RecordNotFound, RecordsUnavailable
from service.records.access import academies
from service.records.access.sessions import Caller
from service.records.batches import batches, queue, webhooks
from service.records.batches.entities import Batch, ItemKind, LeasedItem, Results
from service.records.batches.queue import LeaseLost
from service.use_cases.analyse import Analyser
from service.use_cases.batches.chunk import Done, do_item, keep_done
from service.use_cases.batches.create import drop_left_over
from service.use_cases.batches.lease import lease_kept
from service.use_cases.batches.sources.folders import Archive, OutsideArchive
from service.use_cases.batches.sources.items import n_lines, places_of, swings_of
from service.use_cases.batches.sources.listing import Listed, Mark, listed
from service.use_cases.batches.webhook import Sender, tell

T = TypeVar("T")

_IDLE: Final[float] = 0.5
"""Seconds for which a worker rests when there is nothing to do."""

_AFTER_FAILURE: Final[float] = 3.0
"""Seconds for which it rests when the database failed."""

_MOST_ATTEMPTS: Final[int] = 8
"""Times an item is taken; whatever kills its workers so often is the item's own doing."""

_LISTED_AT_ONCE: Final[int] = 16
"""Items of a folder added in one transaction."""

_log = logging.getLogger(__name__)


class _GivenUp(Exception):
    """Workers died over this piece again and again."""


@dataclass(frozen=True)
class WorkerSetup:
    """What a worker needs.

    Attributes
    ----------
    analyser
        Makes it; called when there is something to do for the first time.
    told
        What became of one line as a line of JSON, with its newline.
    archive
        Folder of the archives of all academies; ``None`` where there is none.
    lease
        Seconds after which others may take what a worker took and no longer says that it has.
    longest
        Most bytes of a request.
    metrics
        Told of every piece whose results are kept.
    """

    database: Database
    analyser: Callable[[], Analyser]
    told: Callable[[str, Done], bytes]
    sender: Sender
    archive: Path | None
    lease: float
    longest: int
    metrics: Metrics | None = None


class Worker:
    """Works through the items of every academy, and tells whoever is to be told."""

    def __init__(self, setup: WorkerSetup) -> None:
        self._setup = setup
        self._name = f"{socket.gethostname()[:20]} {secrets.token_hex(3)}"
        self._turn = 0

    def run(self, stopped: threading.Event) -> None:
        """Work until told to stop; what is in hand is finished first.

        Whoever is to be told is told by a thread, so that no batch waits for a receiver that is
        slow or gone.
        """
        self._safely(self._sweep)
        telling = threading.Thread(target=self._keep_at, args=(self.tell_turn, stopped))
        telling.start()
        try:
            self._keep_at(self.turn, stopped)
        finally:
            stopped.set()
            telling.join()

    def turn(self, stopped: threading.Event) -> bool:
        """Do one thing for each academy that has something to do; whether there was any.

        Raises
        ------
        RecordsUnavailable
        """
        ids = self._academies()
        self._turn += 1
        start = self._turn % len(ids)
        busy = False
        for academy_id in ids[start:] + ids[:start]:
            if stopped.is_set():
                break
            database = self._setup.database.on_behalf(Behalf(academy_id))
            busy |= self._do_one(database, academy_id, stopped)
        return busy

    def tell_turn(self, stopped: threading.Event) -> bool:
        """Tell of one batch for each academy that has one to be told of; whether there was any.

        Raises
        ------
        RecordsUnavailable
        """
        busy = False
        for academy_id in self._academies():
            if not stopped.is_set():
                busy |= self._tell_one(self._setup.database.on_behalf(Behalf(academy_id)))
        return busy

    def _keep_at(self, turn: Callable[[threading.Event], bool], stopped: threading.Event) -> None:
        while not stopped.is_set():
            busy = self._safely(lambda: turn(stopped))
            if not busy:
                stopped.wait(_IDLE if busy is not None else _AFTER_FAILURE)

    def _safely(self, work: Callable[[], T]) -> T | None:
        try:
            return work()
        except RecordsUnavailable as error:
            _log.error("the database failed: %s", error)
            return None

    def _academies(self) -> list[str]:
        with self._setup.database.reading() as session:
            return [academy.id for academy in academies.fetch_all(session)]

    def _sweep(self) -> None:
        for academy_id in self._academies():
            drop_left_over(self._setup.database.on_behalf(Behalf(academy_id)))

    def _do_one(self, database: Database, academy_id: str, stopped: threading.Event) -> bool:
        with database.reading() as session:
            if not queue.is_there_work(session):
                return False
        with database.writing() as session:
            item = queue.take(session, self._name, self._setup.lease)
        if item is None:
            return False
        try:
            self._do(database, academy_id, item, stopped)
        except (LeaseLost, RecordNotFound):
            _log.info("a piece of batch %s was no longer asked for", item.batch_id)
        except RecordsUnavailable:
            raise
        except Exception:
            # It is tried again once the lease is over, but not for ever.
            _log.exception("a piece of batch %s failed", item.batch_id)
        return True

    def _do(
        self, database: Database, academy_id: str, item: LeasedItem, stopped: threading.Event
    ) -> None:
        with database.reading() as session:
            batch = batches.get(session, item.batch_id)
        if batch.started is None:
            with database.writing() as session:
                queue.note_begun(session, item.batch_id)
        database = database.on_behalf(Behalf(academy_id, None, batch.needs_consent))
        archive = Archive(self._setup.archive, academy_id) if self._setup.archive else None
        if item.kind is ItemKind.LISTING:
            with lease_kept(database, item, self._setup.lease):
                self._list(database, archive, batch, item, stopped)
            return
        begin = time.perf_counter()
        if item.attempts > _MOST_ATTEMPTS:
            given_up = _GivenUp(f"{item.attempts - 1} workers died over it")
            done = [Done(place, error=given_up) for place in places_of(item)]
        else:
            with lease_kept(database, item, self._setup.lease):
                done = self._done(database, archive, batch, item)
        audited = database.on_behalf(Behalf(academy_id, _caller(batch), batch.needs_consent))
        kept = self._keep(audited, batch, item, done)
        if self._setup.metrics is not None:
            self._setup.metrics.piece(kept.done, kept.failed, time.perf_counter() - begin)

    def _done(
        self, database: Database, archive: Archive | None, batch: Batch, item: LeasedItem
    ) -> list[Done]:
        analyser = self._setup.analyser()
        reader = Reader(
            analyser.limits,
            self._setup.longest,
            batch.filled_in,
            lenient=batch.folder is not None,
            with_bodies=batch.lesson_id is not None,
        )
        return do_item(
            database, analyser, batch, places_of(item), lambda: swings_of(item, archive, reader)
        )

    def _keep(
        self, database: Database, batch: Batch, item: LeasedItem, done: Sequence[Done]
    ) -> Results:
        with database.writing() as session:
            done = keep_done(session, batch, done)
            results = self._results(item, done)
            queue.finish(session, item, results)
        return results

    def _results(self, item: LeasedItem, done: Sequence[Done]) -> Results:
        failed = sum(each.error is not None for each in done)
        return Results(
            first_line=item.first_line,
            n_lines=n_lines(item),
            lines=b"".join(self._setup.told(item.batch_id, each) for each in done),
            done=len(done) - failed,
            failed=failed,
        )

    def _list(
        self,
        database: Database,
        archive: Archive | None,
        batch: Batch,
        item: LeasedItem,
        stopped: threading.Event,
    ) -> None:
        problem, passed_over = None, Counter[str]()
        some: list[Listed] = []
        try:
            if archive is None:
                raise OutsideArchive("can't be read, as the worker has no archive")
            mark = Mark.read(item.body)
            for each in listed(archive, batch.folder or "", mark, self._setup.longest, passed_over):
                some.append(each)
                if len(some) == _LISTED_AT_ONCE:
                    self._add_listed(database, item, some)
                    some = []
                    if stopped.is_set():
                        self._give_back(database, item)
                        return
        except (OSError, OutsideArchive) as error:
            words = error.strerror if isinstance(error, OSError) else str(error)
            problem = f"The folder could not be read to its end: {words}."
        self._add_listed(database, item, some)
        with database.writing() as session:
            queue.end_listing(session, item, passed_over, problem)

    def _add_listed(self, database: Database, item: LeasedItem, some: Sequence[Listed]) -> None:
        if not some:
            return
        with database.writing() as session:
            queue.add_listed(
                session,
                item,
                [each.item for each in some],
                sum(each.inputs for each in some),
                some[-1].mark.written(),
                self._setup.lease,
            )

    def _give_back(self, database: Database, item: LeasedItem) -> None:
        with database.writing() as session:
            queue.put_back(session, item)

    def _tell_one(self, database: Database) -> bool:
        with database.reading() as session:
            if not webhooks.is_due(session):
                return False
        with database.writing() as session:
            batch = webhooks.take_due(session)
        if batch is None:
            return False
        told = tell(batch, self._setup.sender)
        with database.writing() as session:
            webhooks.note(session, batch, told)
        return True


def _caller(batch: Batch) -> Caller:
    """Whoever sent the batch, to whom the audit puts what is kept."""
    return Caller(batch.key_prefix, batch.request_id, "POST", "/v1/batches")
