"""DEVELOPERS.md: what it names is there, and every room on its map; how pages are written."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
TEXT = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
ROWS = re.findall(r"^\| (`(?:service|training|tests|models|openapi)/.*?) \| (.*) \|$", TEXT, re.M)
NAMED = [path for row, _ in ROWS for path in re.findall(r"`(\S+?)`", row)]


def _rooms() -> list[str]:
    """Rooms of the service that a newcomer meets first."""
    inside = [
        *(ROOT / "service").glob("*/__init__.py"),
        *(ROOT / "service").glob("*/*/__init__.py"),
    ]
    return sorted(f"{file.parent.relative_to(ROOT)}/" for file in inside)


@pytest.mark.parametrize("path", sorted(set(NAMED)))
def test_what_the_map_names_is_there(path: str) -> None:
    assert (ROOT / path).exists()


@pytest.mark.parametrize("room", _rooms())
def test_every_room_is_on_the_map(room: str) -> None:
    parent, name = f"{Path(room).parent}/", Path(room).name
    beside = " ".join(told for row, told in ROWS if f"`{parent}`" in row)
    inside_analysis = parent == "service/analysis/" and f"`{name}/" in TEXT
    halls = any(path.startswith(room) for path in NAMED)
    assert halls or f"`{name}/`" in beside or inside_analysis


FILES = [
    path.relative_to(ROOT).as_posix()
    for room in ("service", "training", "tests")
    for path in (ROOT / room).rglob("*.py")
]
FLOWING = " ".join(TEXT.split())
PLACED = [
    (name, file)
    for names, file in re.findall(r"((?:`\w+`,? )+)in `([\w/]+\.py)`", FLOWING)
    for name in re.findall(r"`(\w+)`", names)
]


def _called(name: str) -> list[str]:
    """The files that a name may stand for, which leaves out the rooms that lead to it."""
    return [file for file in FILES if f"/{file}".endswith(f"/{name}")]


@pytest.mark.parametrize("name", sorted(set(re.findall(r"`([\w/]+\.py)`", TEXT))))
def test_every_file_that_is_named_is_there(name: str) -> None:
    assert _called(name)


@pytest.mark.parametrize(("name", "file"), sorted(set(PLACED)))
def test_what_is_said_to_stand_in_a_file_does(name: str, file: str) -> None:
    texts = [(ROOT / each).read_text(encoding="utf-8") for each in _called(file)]
    assert any(re.search(rf"\b{name}\b", text) for text in texts)


def test_many_are_placed_so() -> None:
    assert len(set(PLACED)) > 5


PAGES = [
    path.relative_to(ROOT).as_posix()
    for path in (
        ROOT / "README.md",
        ROOT / "DEVELOPERS.md",
        *(ROOT / "service").rglob("*.md"),
        *(ROOT / "tests").rglob("*.md"),
    )
    if "node_modules" not in path.parts
]
_BEGINNING = 8
"""Words by which two paragraphs are taken for the same one, told twice."""


@pytest.mark.parametrize("page", PAGES)
def test_no_line_but_a_table_s_is_long(page: str) -> None:
    lines = (ROOT / page).read_text(encoding="utf-8").splitlines()
    assert [line for line in lines if len(line) > 120 and not line.startswith("|")] == []


def test_no_paragraph_of_a_page_stands_there_or_in_another_page_too() -> None:
    begin = Counter[str]()
    for page in PAGES:
        text = re.sub(
            r"^```.*?^```$", "", (ROOT / page).read_text(encoding="utf-8"), flags=re.M | re.S
        )
        for paragraph in re.split(r"\n\n|\n(?=- )", text):
            words = paragraph.split()
            if len(words) >= _BEGINNING and not paragraph.startswith("|"):
                begin[" ".join(words[:_BEGINNING])] += 1
    assert len(begin) > 200
    assert [words for words, count in begin.items() if count > 1] == []
