"""README.md and service/DETAILS.md say what is so, and what they show to paste works.

The blocks of README.md are pasted one after the other into one shell, as a reader would. Three
things are not as on the reader's machine: the environment that runs the tests stands for the one
that the first block makes, the port is a free one, and the block that runs the tests is not run by
a test.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import signal
import subprocess
import sys
from contextlib import suppress
from pathlib import Path

import httpx
import pytest
import yaml
from fastapi.testclient import TestClient
from sqlalchemy import make_url

from service.__main__ import _parser
from service.analysis.faults import CATALOGUE
from service.analysis.pose.layouts import LAYOUTS
from service.app import create_app
from service.intake.formats import FORMATS
from service.settings import Settings
from tests.intake import test_formats
from tests.intake.test_formats import CASES
from tests.ports import free_port
from tests.readme import (
    COMMAND,
    DETAILS,
    FORMAT_TEST,
    PARTS,
    README,
    ROOT,
    fault_table,
    format_table,
    layout_table,
    written_anew,
)

BLOCKS = re.compile(r"^```(\w+)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
INSTALL = re.compile(r"python3 -m venv \.venv && \.venv/bin/pip install -q -e \S+ && ")
EXAMPLE = ROOT / "openapi" / "examples" / "down-the-line-with-club-answer.json"
PAGES_WITH_COMMANDS = [
    "README.md",
    "DEVELOPERS.md",
    "service/DETAILS.md",
    "tests/attack/STANDS.md",
    "tests/bench/SPEED.md",
    "tests/reference/FIGURES.md",
]
COMMANDS = re.compile(r"python -m ((?:training|tests|service)[\w.]*)")


@pytest.mark.parametrize("page", PARTS, ids=lambda page: page.name)
def test_a_page_says_what_the_code_says(page):
    text = page.read_text(encoding="utf-8")
    assert written_anew(page, text) == text, f"{page.name} is stale: run `{COMMAND}`"


def test_a_stale_part_is_written_anew_and_the_rest_left_alone():
    text = README.read_text(encoding="utf-8")
    row = fault_table().splitlines()[2]
    assert written_anew(README, text.replace(row, "| gone |")) == text


@pytest.mark.parametrize("page", PARTS, ids=lambda page: page.name)
def test_a_page_without_its_parts_is_refused(page):
    with pytest.raises(ValueError, match="should have the parts"):
        written_anew(page, "# A page\n")


def _blocks(kind: str, page: Path = README) -> list[str]:
    return [
        text for found, text in BLOCKS.findall(page.read_text(encoding="utf-8")) if found == kind
    ]


def _is_not_run(block: str) -> bool:
    """Whether a block runs the tests, or needs what a test machine has not."""
    return "-m pytest" in block or block.startswith("docker ") or _needs_a_film(block)


def _needs_a_film(block: str) -> bool:
    return "swing.mp4" in block or "video-lean" in block


def test_every_block_is_of_a_kind_that_a_test_looks_at():
    kinds = {kind for kind, _ in BLOCKS.findall(README.read_text(encoding="utf-8"))}
    assert kinds == {"sh", "python", "json"}  # json: parts made from openapi/examples
    kinds = {kind for kind, _ in BLOCKS.findall(DETAILS.read_text(encoding="utf-8"))}
    assert kinds == {"sh", "caddy"}  # sh: needs a film's packages
    assert all(map(_needs_a_film, _blocks("sh", DETAILS)))


@pytest.fixture
def reader(tmp_path: Path) -> tuple[Path, dict[str, str]]:
    """A folder like the one that was checked out, and an environment without settings."""
    for name in ("service", "models", "openapi"):
        (tmp_path / name).symlink_to(ROOT / name)
    (tmp_path / ".venv" / "bin").mkdir(parents=True)
    (tmp_path / "data").mkdir()
    python = tmp_path / ".venv" / "bin" / "python"
    python.write_text(f'#!/bin/sh\nexec {sys.executable} "$@"\n')
    python.chmod(0o755)
    environment = {k: v for k, v in os.environ.items() if not k.startswith("SWING_")}
    return tmp_path, environment | {"XDG_DATA_HOME": str(tmp_path / "data"), "PYTHONPATH": "."}


def test_the_first_swing_sent_from_python_is_answered(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (block,) = _blocks("python")
    monkeypatch.setattr(httpx, "Client", lambda **_: TestClient(create_app(Settings())))
    exec(block, {})
    told = capsys.readouterr().out.splitlines()
    assert "Trail heel kicking up and out present None" in told
    assert "Over-steep shaft at the top not_assessable Film face-on and down the line." in told


def _paste(blocks: list[str], folder: Path, environment: dict[str, str]) -> list[str]:
    """What each block prints when all are pasted into one shell; what it started is ended."""
    shell = subprocess.Popen(
        ["bash", "-e"],
        cwd=folder,
        env=environment,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    pasted = "\necho ---\n".join(blocks)
    try:
        printed, complaints = shell.communicate(f"{pasted}\nkill %1; wait\n", timeout=300)
    finally:
        with suppress(ProcessLookupError):  # the server too, where the shell gave up before
            os.killpg(shell.pid, signal.SIGKILL)
    told = printed.split("---\n")
    assert len(told) == len(blocks), complaints
    return told


@pytest.mark.skipif(shutil.which("curl") is None, reason="curl is not installed")
def test_what_is_shown_works_when_pasted_block_by_block(reader: tuple[Path, dict[str, str]]):
    folder, environment = reader
    port = str(free_port())
    blocks = [INSTALL.sub("", block) for block in _blocks("sh") if not _is_not_run(block)]
    blocks = [block.replace(":8000", f":{port}") for block in blocks]
    told = _paste(blocks, folder, environment | {"SWING_PORT": port})
    demo, answer, _, _, _, tagged, entered = told
    assert "Arms lifting at the top" in demo
    assert {path.name for path in (folder / "out").iterdir()} == {
        "flagged_down_the_line.svg",
        "flagged_face_on.svg",
        "recap.html",
    }
    golden = _gist(EXAMPLE.read_text(encoding="utf-8"))
    assert _gist(answer) == golden
    kept = json.loads((folder / "swing.json").read_text())["analysis"]
    assert _gist(json.dumps(kept)) == golden
    first, second = map(json.loads, (folder / "results.ndjson").read_text().splitlines())
    assert (first["status"], second["status"]) == (200, 422)
    assert json.loads((folder / "batch.json").read_text())["state"] == "done"
    assert "Ines Calder (invented)" in (folder / "recap.html").read_text(encoding="utf-8")
    assert json.loads((folder / "review.json").read_text())["verdict"] == "reject"
    assert "a golf swing found in 3" in tagged
    assert "down the line: 1 swing" in tagged
    assert "<svg" in (folder / "summary.html").read_text(encoding="utf-8")
    assert '"items":[]' in entered.replace(" ", "")
    assert "North" in entered


def test_what_takes_a_film_are_commands_that_there_are():
    """They are run on a real film where the pose model is installed (`.ci/film`)."""
    lines = [line for b in _blocks("sh") if _needs_a_film(b) for line in b.splitlines()]
    commands = [line.split("-m service ")[1].split() for line in lines if "-m service " in line]
    assert {_parser().parse_args(words).command for words in commands} == {"analyse", "marks-page"}


def _gist(text: str) -> dict[str, str]:
    """What an answer says of each fault, and from where it was filmed."""
    answer = json.loads(text)
    return {f["fault"]: f["status"] for f in answer["findings"]} | {"view": answer["view"]["value"]}


def test_the_command_that_runs_the_tests_is_that_of_the_checks():
    (block,) = (b for b in _blocks("sh") if "-m pytest" in b)
    assert block in (ROOT / ".ci" / "run").read_text(encoding="utf-8")


def test_the_container_is_run_as_it_is_built():
    (block,) = (b for b in _blocks("sh") if b.startswith("docker "))
    built = (ROOT / "Dockerfile").read_text(encoding="utf-8")
    port, folder = re.search(r":(\d+) --volume \S+:(\S+) ", block).groups()
    assert f"EXPOSE {port}" in built
    assert f"VOLUME {folder}\n" in built
    assert f"sqlite:///{folder}/" in built


def test_the_proxy_leads_to_the_address_that_is_listened_on():
    (block,) = _blocks("caddy", DETAILS)
    address = re.search(r"reverse_proxy (\S+)", block)[1]
    fields = Settings.model_fields
    assert address == f"{fields['host'].default}:{fields['port'].default}"


def test_the_replicas_are_told_of_what_there_is():
    """Whether an engine takes it is another matter, told beside it."""
    told = yaml.safe_load((ROOT / ".ci" / "compose.yaml").read_text(encoding="utf-8"))
    services = told["services"]
    for service in services.values():
        assert set(service.get("depends_on", {})) <= set(services)
        assert {each["source"] for each in service.get("configs", [])} <= set(told["configs"])
        assert {each.partition(":")[0] for each in service.get("volumes", [])} <= set(
            told["volumes"]
        )
    environment = services["service"]["environment"]
    settings = {f"SWING_{name.upper()}" for name in Settings.model_fields}
    assert set(environment) <= settings
    url = make_url(environment["SWING_DATABASE_URL"].replace("${DB_PASSWORD}", "x"))
    assert (url.host, url.username, url.database) == ("database", "swing", "swing")
    role = told["configs"]["role"]["content"]
    assert f"CREATE ROLE {url.username} " in role
    assert "NOSUPERUSER" in role, "else row-level security does not bind the service"
    values = {name.removeprefix("SWING_").lower(): v for name, v in environment.items()}
    Settings(**{**values, "database_url": ""})
    assert "service 8000" in told["configs"]["proxy"]["content"]
    assert _parser().parse_args(services["migrate"]["command"][3:]).command == "migrate"


def test_every_format_has_a_row_and_a_case_of_the_test_that_is_named():
    rows = [row for row in format_table().splitlines()[2:] if row.startswith("|")]
    for row, name in zip(rows, FORMATS, strict=True):
        assert f"`{name}`" in row
        assert name in CASES
    assert hasattr(test_formats, FORMAT_TEST)


def test_every_fault_and_layout_has_a_row():
    assert len(fault_table().splitlines()) == 2 + len(CATALOGUE)
    assert len(layout_table().splitlines()) == 2 + len(LAYOUTS)


@pytest.mark.parametrize("page", PAGES_WITH_COMMANDS)
def test_every_command_that_a_page_names_is_a_module(page):
    modules = set(COMMANDS.findall((ROOT / page).read_text(encoding="utf-8")))
    assert modules
    for module in modules:
        path = ROOT.joinpath(*module.split("."))
        assert path.with_suffix(".py").is_file() or (path / "__main__.py").is_file(), module


def test_every_link_of_the_readme_leads_to_a_heading():
    text = README.read_text(encoding="utf-8")
    headings = re.findall(r"^#+ (.+)$", text, re.MULTILINE)
    anchors = {re.sub(r"[^\w -]", "", heading).lower().replace(" ", "-") for heading in headings}
    links = set(re.findall(r"\]\(#([\w-]+)\)", text))
    assert len(links) > 10
    assert links - anchors == set()


@pytest.mark.parametrize("page", PARTS, ids=lambda page: page.name)
def test_every_file_that_a_page_names_from_the_root_is_there(page):
    text = page.read_text(encoding="utf-8")
    named = set(re.findall(r"`((?:tests|service|training|models|openapi|\.ci)/[\w/.-]+)`", text))
    assert len(named) > 3
    assert {name for name in named if not (ROOT / name).exists()} == set()
