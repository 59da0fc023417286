"""Types that a generator makes of the contract compile with requests and an answer's use."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest

HERE = Path(__file__).parent
CONTRACT = HERE.parents[1] / "openapi" / "openapi.json"
TOOLS = HERE / "node_modules" / ".bin"
STRICT = ("--strict", "--noEmit", "--target", "es2020", "--lib", "es2020,dom")


def _obstacle() -> str | None:
    if shutil.which("node") is None:
        return "Node.js is not installed"
    if not (TOOLS / "tsc").exists():
        return "the node packages are not installed: npm install --prefix tests/typescript"
    return None


pytestmark = pytest.mark.skipif(_obstacle() is not None, reason=_obstacle() or "")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the generated types."""
    folder = tmp_path_factory.mktemp("types")
    types = [str(TOOLS / "openapi-typescript"), str(CONTRACT), "-o", str(folder / "api.ts")]
    subprocess.run(types, check=True, capture_output=True, timeout=120)
    return folder


def _compile(folder: Path, program: str) -> subprocess.CompletedProcess[str]:
    (folder / "use.ts").write_text(program, encoding="utf-8")
    compiler = [str(TOOLS / "tsc"), *STRICT, str(folder / "use.ts")]
    return subprocess.run(compiler, capture_output=True, text=True, timeout=120, check=False)


def test_a_minimal_and_a_full_request_compile(folder: Path) -> None:
    done = _compile(folder, (HERE / "use.ts").read_text(encoding="utf-8"))
    assert done.returncode == 0, done.stdout


@pytest.mark.parametrize(
    ("right", "wrong"),
    [
        ('"trail_heel_kick"', '"heel_kick"'),
        ('"rehearsal"', '"rehearse"'),
        ("playback_speed", "speed"),
    ],
)
def test_a_mistake_does_not_compile(folder: Path, right: str, wrong: str) -> None:
    program = (HERE / "use.ts").read_text(encoding="utf-8")
    assert _compile(folder, program.replace(right, wrong)).returncode != 0
