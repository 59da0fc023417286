"""A lease kept up for as long as a worker works on an item, however long that is."""

from __future__ import annotations

import logging
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

from service.records import Database, RecordsUnavailable
from service.records.batches import queue
from service.records.batches.entities import LeasedItem

_BEATS: Final[int] = 3
"""How often a lease is renewed within its time, so that one that fails does no harm."""

_log = logging.getLogger(__name__)


@contextmanager
def lease_kept(database: Database, item: LeasedItem, lease: float) -> Iterator[None]:
    """Renew the lease of an item meanwhile, so that it may be as short as a dead worker may be
    waited for.

    Nothing is told where it is lost all the same: what comes of the item is then not kept.

    Parameters
    ----------
    lease
        Seconds for which each renewal holds.
    """
    done = threading.Event()
    beat = threading.Thread(target=_renew, args=(database, item, lease, done), daemon=True)
    beat.start()
    try:
        yield
    finally:
        done.set()
        beat.join()


def _renew(database: Database, item: LeasedItem, lease: float, done: threading.Event) -> None:
    while not done.wait(lease / _BEATS):
        try:
            with database.writing() as session:
                if not queue.renew(session, item, lease):
                    return
        except RecordsUnavailable as error:
            _log.warning("a lease could not be renewed: %s", error)
