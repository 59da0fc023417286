"""Work spread over processes, with a bar that tells how far it has come."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from typing import Final, TypeVar

from tqdm import tqdm

T = TypeVar("T")
R = TypeVar("R")
_MOST_AT_ONCE: Final[int] = 8
"""Pieces that a process is given together, where there are many; few are given one by one."""


def spread_over(jobs: int, do: Callable[[T], R], pieces: Sequence[T], title: str) -> list[R]:
    """What ``do`` makes of every piece, in their order, by so many processes.

    ``do`` and pieces must stand being sent to another process where there is more than one job.
    """
    bar = partial(tqdm, total=len(pieces), desc=title)
    if jobs == 1:
        return list(bar(map(do, pieces)))
    at_once = max(1, min(_MOST_AT_ONCE, len(pieces) // (8 * jobs)))
    with ProcessPoolExecutor(jobs) as pool:
        return list(bar(pool.map(do, pieces, chunksize=at_once)))
