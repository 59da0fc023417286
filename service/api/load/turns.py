"""Whose clip is analysed now, and who waits for it."""

from __future__ import annotations

from collections.abc import Callable
from threading import BoundedSemaphore
from typing import TypeVar

from anyio import CapacityLimiter, to_thread

Done = TypeVar("Done")


class Turns:
    """Some clips are unpacked, read and analysed at once: more would get less done.

    Who only analyses waits in the event loop, in the order of coming, and not in a thread: one
    thread then does all that work, whose memory is in the processor's caches, and no more threads
    than turns fight over the interpreter. Who has a thread for other work as well takes a turn in
    it.

    Parameters
    ----------
    at_once
        How many turns there are.
    """

    def __init__(self, at_once: int) -> None:
        self._at_once = at_once
        self._line: CapacityLimiter | None = None
        self.turn = BoundedSemaphore(at_once)
        """Held by a thread meanwhile."""

    async def run(self, work: Callable[[], Done]) -> Done:
        """Do some work in a thread once it is its turn."""
        self._line = self._line or CapacityLimiter(self._at_once)
        return await to_thread.run_sync(self._in_turn, work, limiter=self._line)

    def _in_turn(self, work: Callable[[], Done]) -> Done:
        with self.turn:
            return work()
