"""Items of batches: each is done once, whoever takes it and whoever dies over it."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime

import pytest

from service.records import Database
from service.records.batches import batches, queue, results
from service.records.batches.entities import (
    Batch,
    BatchState,
    ItemKind,
    LeasedItem,
    NewBatch,
    NewItem,
    Results,
)
from service.records.batches.queue import LeaseLost

LEASE = 60.0
OVER = -1.0
"""A lease that is over at once."""


def _batch(database: Database, items: int) -> Batch:
    with database.writing() as session:
        batch = batches.receive(session, NewBatch())
        some = [NewItem(k, ItemKind.LINES, k + 1, f"{k}\n".encode()) for k in range(items)]
        batches.add_items(session, batch.id, some)
        return batches.open_up(session, batch.id, items)


def _take(database: Database, lease: float = LEASE) -> LeasedItem | None:
    with database.writing() as session:
        return queue.take(session, "somebody", lease)


def _finish(database: Database, item: LeasedItem) -> None:
    with database.writing() as session:
        queue.finish(session, item, Results(item.first_line, 1, item.body, done=1))


def _get(database: Database, batch: Batch) -> Batch:
    with database.reading() as session:
        return batches.get(session, batch.id)


def test_items_are_taken_in_their_order_and_the_last_one_ends_the_batch(
    database: Database,
) -> None:
    batch = _batch(database, 3)
    for number in range(3):
        assert _get(database, batch).state is not BatchState.DONE
        item = _take(database)
        assert item is not None
        assert (item.number, item.body) == (number, f"{number}\n".encode())
        _finish(database, item)
    assert _take(database) is None
    ended = _get(database, batch)
    assert (ended.state, ended.done) == (BatchState.DONE, 3)
    assert ended.finished is not None
    assert ended.finished <= datetime.now(UTC)


def test_what_one_has_taken_nobody_else_takes_until_the_lease_is_over(database: Database) -> None:
    _batch(database, 1)
    assert _take(database, OVER) is not None
    again = _take(database)
    assert again is not None
    assert again.attempts == 2
    assert _take(database) is None


def test_a_worker_that_says_so_keeps_what_it_has_and_one_that_does_not_loses_it(
    database: Database,
) -> None:
    _batch(database, 1)
    slow = _take(database, OVER)
    assert slow is not None
    with database.writing() as session:
        assert queue.renew(session, slow, LEASE)
    assert _take(database) is None
    with database.writing() as session:
        assert queue.renew(session, slow, OVER)
    assert _take(database) is not None
    with database.writing() as session:
        assert not queue.renew(session, slow, LEASE)


def test_of_two_that_did_the_same_item_only_the_one_that_has_it_is_heard(
    database: Database,
) -> None:
    batch = _batch(database, 1)
    slow = _take(database, OVER)
    quick = _take(database)
    assert slow is not None
    assert quick is not None
    with pytest.raises(LeaseLost):
        _finish(database, slow)
    _finish(database, quick)
    with pytest.raises(LeaseLost):
        _finish(database, quick)
    assert _get(database, batch).done == 1


def test_a_lease_that_is_over_counts_as_long_as_nobody_else_has_the_item(
    database: Database,
) -> None:
    batch = _batch(database, 1)
    slow = _take(database, OVER)
    assert slow is not None
    _finish(database, slow)
    assert _get(database, batch).state is BatchState.DONE


def test_what_a_cancelled_or_deleted_batch_still_brings_is_not_kept(database: Database) -> None:
    for end in (batches.cancel, batches.delete):
        batch = _batch(database, 2)
        item = _take(database)
        assert item is not None
        with database.writing() as session:
            end(session, batch.id)
        with pytest.raises(LeaseLost):
            _finish(database, item)
        with database.reading() as session:
            assert results.find(session, batch.id, 1) is None
        assert _take(database) is None


def test_workers_at_once_take_every_item_once(database: Database) -> None:
    batch = _batch(database, 24)

    def work(_: int) -> list[int]:
        numbers = []
        while (item := _take(database)) is not None:
            _finish(database, item)
            numbers.append(item.number)
        return numbers

    with ThreadPoolExecutor(4) as pool:
        taken = [number for numbers in pool.map(work, range(4)) for number in numbers]
    ended = _get(database, batch)
    assert (ended.state, ended.done) == (BatchState.DONE, 24)
    assert sorted(taken) == list(range(24))


def test_a_small_batch_does_not_wait_for_a_large_one(database: Database) -> None:
    large = _batch(database, 5)
    first = _take(database)
    small = _batch(database, 1)
    second = _take(database)
    assert first is not None
    assert second is not None
    assert (first.batch_id, second.batch_id) == (large.id, small.id)
