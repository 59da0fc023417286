"""The map of DEVELOPERS.md: every room that it names is there, and every room is named."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
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
