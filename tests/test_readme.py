from __future__ import annotations

import re

import pytest

from service.analysis.faults import CATALOGUE
from service.analysis.pose.layouts import LAYOUTS
from service.intake.formats import FORMATS
from tests.intake.test_formats import CASES
from tests.readme import (
    COMMAND,
    README,
    ROOT,
    fault_table,
    format_table,
    layout_table,
    written_anew,
)

COMMANDS = re.compile(r"python -m ((?:training|tests|service)[\w.]*)")


def test_the_readme_says_what_the_code_says():
    text = README.read_text(encoding="utf-8")
    assert written_anew(text) == text, f"README.md is stale: run `{COMMAND}`"


def test_a_stale_part_is_written_anew_and_the_rest_left_alone():
    text = README.read_text(encoding="utf-8")
    row = fault_table().splitlines()[2]
    assert written_anew(text.replace(row, "| gone |")) == text


def test_a_readme_without_its_parts_is_refused():
    with pytest.raises(ValueError, match="should have the parts"):
        written_anew("# A page\n")


def test_every_format_has_a_row_with_a_case_that_is_run():
    for row, name in zip(format_table().splitlines()[2:], FORMATS, strict=False):
        assert f"`[{name}-declared]`" in row
        assert name in CASES


def test_every_fault_and_layout_has_a_row():
    assert len(fault_table().splitlines()) == 2 + len(CATALOGUE)
    assert len(layout_table().splitlines()) == 2 + len(LAYOUTS)


@pytest.mark.parametrize("page", ["README.md", "DEVELOPERS.md"])
def test_every_command_that_a_page_names_is_a_module(page):
    for module in set(COMMANDS.findall((ROOT / page).read_text(encoding="utf-8"))):
        path = ROOT.joinpath(*module.split("."))
        assert path.with_suffix(".py").is_file() or (path / "__main__.py").is_file(), module


def test_every_room_on_the_map_is_there():
    rows = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").splitlines()
    rooms = {
        name for row in rows if row.startswith("| `") for name in re.findall(r"`([\w/.]+)`", row)
    }
    paths = {room for room in rooms if room.startswith(("service/", "training/", "tests/"))}
    assert len(paths) > 10
    assert {path for path in paths if not (ROOT / path).exists()} == set()
