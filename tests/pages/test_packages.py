"""What the project is built of is told truly, and pinned for the container."""

from __future__ import annotations

import json
import re
import tomllib
from importlib import metadata
from pathlib import Path

import pytest

from service import settings

ROOT = Path(__file__).parents[2]
PYPROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
PROJECT = PYPROJECT["project"]
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


def test_a_wheel_brings_every_file_of_the_packages_and_every_model() -> None:
    tools = PYPROJECT["tool"]["setuptools"]
    brought = {
        path
        for package, patterns in tools["package-data"].items()
        for pattern in patterns
        for path in (ROOT / package.replace(".", "/")).glob(pattern)
    }
    brought |= {ROOT / file for file in PROJECT["license-files"]}
    there = {
        path
        for package in ("service", "training")
        for path in (ROOT / package).rglob("*.*")
        if path.is_file()
        and path.suffix not in (".py", ".pyc", ".mako")  # new migrations are written in a checkout
    }
    assert there - brought == set()
    (patterns,) = tools["data-files"].values()
    models = {path for pattern in patterns for path in ROOT.glob(pattern)}
    manifest = json.loads((ROOT / "models" / "manifest.json").read_bytes())
    named = {ROOT / "models" / each["file"] for each in manifest["estimators"]}
    assert named <= models


def test_models_that_a_wheel_brought_are_found(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    (target,) = PYPROJECT["tool"]["setuptools"]["data-files"]
    (tmp_path / target).mkdir(parents=True)
    monkeypatch.setattr(settings, "__file__", str(tmp_path / "lib" / "service" / "settings.py"))
    monkeypatch.setattr(settings.sysconfig, "get_path", {"data": str(tmp_path)}.get)
    assert settings.Settings().model_dir == tmp_path / target
