"""What docstrings show by example."""

from __future__ import annotations

import doctest
from importlib import import_module
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
MODULES = [
    ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")
    for room in ("service", "training")
    for path in sorted((ROOT / room).rglob("*.py"))
    if ">>> " in path.read_text(encoding="utf-8")
]


@pytest.mark.parametrize("name", MODULES)
def test_an_example_in_a_docstring_comes_out_as_it_is_written(name: str) -> None:
    told = doctest.testmod(import_module(name))
    assert told.attempted > 0
    assert told.failed == 0
