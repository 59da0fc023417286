"""Wait for what comes about in a while."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import TypeVar

T = TypeVar("T")


def until(reached: Callable[[], T], seconds: float = 60.0) -> T:
    """What ``reached`` returns once that is true.

    Raises
    ------
    AssertionError
        When it is not within so many seconds.
    """
    end = time.monotonic() + seconds
    while not (told := reached()):
        assert time.monotonic() < end, f"it never came to that: {told}"
        time.sleep(0.05)
    return told
