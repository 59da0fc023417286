"""What docstrings show by example, and where they send the reader."""

from __future__ import annotations

import doctest
import re
from importlib import import_module
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
TEXTS = {
    path.relative_to(ROOT): path.read_text(encoding="utf-8")
    for room in ("service", "training", "tests")
    for path in sorted((ROOT / room).rglob("*.py"))
}
MODULES = [
    ".".join(path.with_suffix("").parts).removesuffix(".__init__")
    for path, text in TEXTS.items()
    if ">>> " in text and path.parts[0] != "tests"
]
NAMED = sorted(
    {
        name
        for text in TEXTS.values()
        for name in re.findall(r":\w+:`~?((?:service|training|tests)(?:\.\w+)+)`", text)
    }
)
"""Modules and what stands in them, as docstrings refer to them."""


@pytest.mark.parametrize("name", MODULES)
def test_an_example_in_a_docstring_comes_out_as_it_is_written(name: str) -> None:
    told = doctest.testmod(import_module(name))
    assert told.attempted > 0
    assert told.failed == 0


@pytest.mark.parametrize("name", NAMED)
def test_what_a_docstring_refers_to_is_there(name: str) -> None:
    place, parts = ROOT, name.split(".")
    while parts and (place / parts[0]).is_dir():
        place /= parts.pop(0)
    if parts and (place / f"{parts[0]}.py").is_file():
        text = (place / f"{parts.pop(0)}.py").read_text(encoding="utf-8")
    else:
        # What a room hands on is written elsewhere, with all that it has.
        text, parts = (place / "__init__.py").read_text(encoding="utf-8"), parts[:1]
    assert [part for part in parts if not re.search(rf"\b{part}\b", text)] == []


def test_docstrings_refer_to_one_another() -> None:
    assert len(NAMED) > 50
