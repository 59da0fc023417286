"""Types that a generator makes of the contract compile with requests and an answer's use."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import pytest

from tests.taking_turns import made_once

HERE = Path(__file__).parent
CONTRACT = HERE.parents[1] / "openapi" / "openapi.json"
TOOLS = HERE / "node_modules" / ".bin"
MISTAKES = {
    "fault": ('"trail_heel_kick"', '"heel_kick"'),
    "intent": ('"rehearsal"', '"rehearse"'),
    "field": ("playback_speed", "speed"),
}
"""A name that the contract knows, and one that it does not."""
Complaints = dict[str, list[str]]
COMPLAINT = re.compile(r"^(\w+)\.ts\(\d+,\d+\): error (.+)$", re.MULTILINE)
STRICT = ("--strict", "--noEmit", "--target", "es2020", "--lib", "es2020,dom")


def _obstacle() -> str | None:
    if shutil.which("node") is None:
        return "Node.js is not installed"
    if not (TOOLS / "tsc").exists():
        return "the node packages are not installed: npm install --prefix tests/typescript"
    return None


pytestmark = pytest.mark.skipif(_obstacle() is not None, reason=_obstacle() or "")


@pytest.fixture(scope="module")
def complaints(tmp_path_factory: pytest.TempPathFactory) -> Complaints:
    """What the compiler says of the program as it stands, and of each mistake in it."""
    return made_once("types", lambda: _compile(tmp_path_factory.mktemp("types")))


def _compile(folder: Path) -> Complaints:
    """All programs in one run, as most of its time goes into the types that they share."""
    types = [str(TOOLS / "openapi-typescript"), str(CONTRACT), "-o", str(folder / "api.ts")]
    subprocess.run(types, check=True, capture_output=True, timeout=120)
    program = (HERE / "use.ts").read_text(encoding="utf-8")
    programs = {"right": program} | {
        name: program.replace(right, wrong) for name, (right, wrong) in MISTAKES.items()
    }
    for name, text in programs.items():
        (folder / f"{name}.ts").write_text(text, encoding="utf-8")
    compiler = [str(TOOLS / "tsc"), *STRICT, *(f"{name}.ts" for name in programs)]
    done = subprocess.run(
        compiler, cwd=folder, capture_output=True, text=True, timeout=120, check=False
    )
    said = COMPLAINT.findall(done.stdout)
    return {name: [text for file, text in said if file == name] for name in programs} | {
        "elsewhere": [text for file, text in said if file not in programs]
    }


def test_a_minimal_and_a_full_request_compile(complaints: Complaints) -> None:
    assert complaints["right"] == []
    assert complaints["elsewhere"] == []


@pytest.mark.parametrize("name", MISTAKES)
def test_a_mistake_does_not_compile(complaints: Complaints, name: str) -> None:
    assert MISTAKES[name][1].strip('"') in " ".join(complaints[name])
