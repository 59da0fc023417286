"""The published skeletons: every module of this room that holds a ``LAYOUT``."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from importlib import import_module
from pathlib import Path
from pkgutil import iter_modules
from types import MappingProxyType
from typing import Final

from service.analysis.pose.layouts.layout import Layout

_PACKAGE: Final[str] = __name__.rpartition(".")[0]
_NO_SKELETONS: Final[frozenset[str]] = frozenset({"layout", "published", "resolver"})


def _found() -> Iterator[Layout]:
    for module in iter_modules([str(Path(__file__).parent)]):
        if module.name not in _NO_SKELETONS:
            layout = import_module(f"{_PACKAGE}.{module.name}").LAYOUT
            assert isinstance(layout, Layout)
            yield layout


LAYOUTS: Final[Mapping[str, Layout]] = MappingProxyType(
    {layout.name: layout for layout in sorted(_found(), key=lambda layout: len(layout.joints))}
)
"""Published skeletons by name, those of few points first; read-only."""
