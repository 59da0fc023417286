"""Turns of analysing: how many at once, in which order, in which threads."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from functools import partial

import anyio

from service.api.load.turns import Turns


def _run(turns: Turns, works: list[Callable[[], object]]) -> None:
    async def all_of_them() -> None:
        async with anyio.create_task_group() as group:
            for work in works:
                group.start_soon(turns.run, work)
                await anyio.sleep(0)

    anyio.run(all_of_them)


def test_work_is_done_one_after_the_other_in_the_order_of_coming_and_by_one_thread() -> None:
    inside, order, threads = threading.Semaphore(1), list[int](), set[int]()

    def work(number: int) -> None:
        assert inside.acquire(blocking=False)
        order.append(number)
        threads.add(threading.get_ident())
        inside.release()

    _run(Turns(1), [partial(work, number) for number in range(20)])
    assert order == list(range(20))
    assert len(threads) == 1


def test_with_two_turns_two_are_at_work_at_once() -> None:
    both = threading.Barrier(2, timeout=10)
    _run(Turns(2), [both.wait, both.wait])


def test_work_waits_for_a_thread_that_holds_the_turn_for_other_work() -> None:
    turns, done, begun = Turns(1), list[str](), threading.Event()

    def other() -> None:
        with turns.turn:
            begun.set()
            time.sleep(0.05)
            done.append("other")

    thread = threading.Thread(target=other)
    thread.start()
    assert begun.wait(10)
    _run(turns, [lambda: done.append("work")])
    thread.join()
    assert done == ["other", "work"]
