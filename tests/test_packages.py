"""What the project is built of is told truly, and pinned for the container."""

from __future__ import annotations

import re
import tomllib
from importlib import metadata
from pathlib import Path

ROOT = Path(__file__).parents[1]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
LOCK = ROOT / ".ci" / "container.lock"
ROW = re.compile(r"^\| `([\w.-]+)` \| ([^|]+) \| ([^|]+) \|$", re.MULTILINE)
TABLE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").partition("## What it is built of")[2]
ROWS = {name: (why, licence) for name, why, licence in ROW.findall(TABLE)}


def _names(requirements: list[str]) -> set[str]:
    return {re.split(r"[\[<>=~! ]", each)[0] for each in requirements} - {PROJECT["name"]}


def _pinned() -> dict[str, str]:
    return dict(re.findall(r"^([\w.-]+)==(\S+)", LOCK.read_text(encoding="utf-8"), re.MULTILINE))


def test_every_package_is_told_with_why_and_its_licence() -> None:
    extras = PROJECT["optional-dependencies"].values()
    asked = _names([*PROJECT["dependencies"], *(each for extra in extras for each in extra)])
    assert set(ROWS) == asked


def test_the_licence_told_is_the_one_that_the_package_declares() -> None:
    wrong = {}
    for name, (_, licence) in ROWS.items():
        try:
            declared = metadata.metadata(name).get("License-Expression")
        except metadata.PackageNotFoundError:
            continue
        if declared and licence.partition(" and others")[0] not in (declared, declared[:12]):
            wrong[name] = (licence, declared)
    assert wrong == {}


def test_the_project_declares_a_licence_and_brings_its_text() -> None:
    (file,) = PROJECT["license-files"]
    assert (ROOT / file).read_text(encoding="utf-8").startswith(f"{PROJECT['license']} License")


def test_the_container_pins_every_package_it_asks_for_by_hash() -> None:
    asked = _names([*PROJECT["dependencies"], *PROJECT["optional-dependencies"]["traces"]])
    assert asked <= set(_pinned())
    text = LOCK.read_text(encoding="utf-8")
    blocks = re.split(r"^(?=[\w.-]+==)", text, flags=re.MULTILINE)[1:]
    assert len(blocks) == len(_pinned())
    assert all("--hash=sha256:" in block for block in blocks)
    assert "://" not in text


def test_the_container_runs_as_nobody_in_particular_and_asks_the_process_for_its_health() -> None:
    text = (ROOT / "Dockerfile").read_text(encoding="utf-8")
    last = text.rpartition("\nFROM ")[2]
    assert re.search(r"^USER 10001$", last, re.MULTILINE)
    assert "--require-hashes" in text
    assert "/healthz" in last.partition("HEALTHCHECK")[2]
