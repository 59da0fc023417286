"""The recap as a browser shows it: axe-core, phone width, requests."""

from __future__ import annotations

import json
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest

from service.demo import lesson_page
from service.report.branding import Branding, readable
from service.settings import Settings
from service.use_cases.analyse import Analyser
from service.use_cases.recap import Presentation
from tests.browser.screenshots import SECOND, WORDS

HERE = Path(__file__).parent
_DOT = (
    "data:image/png;base64,iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNkYPhfDwAChwGA"
    "60e6kgAAAABJRU5ErkJggg=="
)
WIDTHS = [390, 1280]


def _obstacle() -> str | None:
    if shutil.which("node") is None:
        return "Node.js is not installed; .ci/browser installs what this test needs"
    if shutil.which("chromium") is None:
        return "Chromium is not installed; .ci/browser installs what this test needs"
    if not (HERE / "node_modules" / "playwright-core").is_dir():
        return "the node packages are not installed; .ci/browser installs them"
    return None


pytestmark = pytest.mark.skipif(_obstacle() is not None, reason=_obstacle() or "")


def _look(page: str, folder: Path, *parts: str) -> list[dict[str, Any]]:
    """What the browser makes of a page and its parts, once a width of :data:`WIDTHS`."""
    file = folder / "page.html"
    file.write_text(page, encoding="utf-8")
    command = ["node", str(HERE / "check.cjs"), str(shutil.which("chromium")), str(file), *parts]
    done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
    assert done.returncode == 0, done.stderr
    looks: list[dict[str, Any]] = json.loads(done.stdout)
    assert [(look["part"], look["width"]) for look in looks] == [
        (part, width) for part in ("", *parts) for width in WIDTHS
    ]
    return looks


def test_the_recap_has_no_violation_no_overflow_and_asks_for_nothing(tmp_path: Path) -> None:
    branding = Branding("Marlow Quay (invented)", readable("#ffd400"), _DOT)
    page = lesson_page(Analyser.of(Settings()), Presentation(branding=branding))
    # What is folded away is looked at too.
    page = page.replace("<details>", "<details open>")
    for look in _look(page, tmp_path, WORDS, SECOND):
        assert look["violations"] == []
        assert look["passes"] > 20
        assert look["overflow"] == 0
        assert look["elsewhere"] == []
        assert look["scripts"] == 0


def test_a_page_with_every_one_of_these_faults_is_caught(tmp_path: Path) -> None:
    bad = (
        '<html><body><h3 style="color: #ccc; background: #fff">Pale</h3>'
        '<img src="https://elsewhere.invalid/a.png"><script>0</script>'
        '<div style="width: 2000px">wide</div></body></html>'
    )
    for look in _look(bad, tmp_path):
        rules = {violation["rule"] for violation in look["violations"]}
        assert {"image-alt", "html-has-lang", "color-contrast", "document-title"} <= rules
        assert look["overflow"] > 500
        assert look["elsewhere"] == ["https://elsewhere.invalid/a.png"]
        assert look["scripts"] == 1
