"""Pages of a list, in the order in which its entries were made."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Generic, TypeVar

T = TypeVar("T", covariant=True)


@dataclass(frozen=True)
class Window:
    """Which part of a list: ``limit`` entries after the one with the id ``after``."""

    limit: int
    after: str | None = None


@dataclass(frozen=True)
class Page(Generic[T]):
    """Part of a list.

    ``last`` is the id of the last entry when there are more, else ``None``. As ids grow
    with time, entries made while the pages are read neither repeat nor hide any other.
    """

    items: tuple[T, ...]
    last: str | None
