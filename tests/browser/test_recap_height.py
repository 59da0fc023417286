"""How long the recap is on a phone and on paper; needs Chromium alone."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from service.languages import CODES, language
from tests.browser.screenshots import (
    PAPERS,
    SECOND,
    WORDS,
    demonstration,
    full_page,
    phone_height,
    sheets,
)

MOST_PIXELS = 3000
MOST_SHEETS = 2

pytestmark = pytest.mark.skipif(
    shutil.which("chromium") is None,
    reason="Chromium is not installed; .ci/browser installs what this test needs",
)


@pytest.fixture(scope="module")
def full_lessons(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """A full lesson in every language."""
    folder = tmp_path_factory.mktemp("page")
    pages = {}
    with demonstration() as (session, ids):
        for code in CODES:
            pages[code] = folder / f"{code}.html"
            pages[code].write_text(full_page(session, ids, language(code)), encoding="utf-8")
    return pages


@pytest.mark.parametrize("code", CODES)
def test_a_full_lesson_is_short_on_a_phone(full_lessons: dict[str, Path], code: str) -> None:
    page = full_lessons[code]
    assert page.read_text(encoding="utf-8").count('<article class="key">') == 2
    assert phone_height(page) <= MOST_PIXELS


def test_the_second_page_takes_the_place_of_the_first(full_lessons: dict[str, Path]) -> None:
    page = full_lessons["en"]
    text = page.read_text(encoding="utf-8")
    both = page.with_name("both.html")
    both.write_text(text.replace('class="second"', 'class="other"'), encoding="utf-8")
    first, second, whole = phone_height(page), phone_height(page, SECOND), phone_height(both)
    assert second > 1000
    assert abs(first + second - whole) < 400  # what stands above either page is there once
    assert 300 < phone_height(page, WORDS) < 1000


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("code", CODES)
def test_a_full_lesson_takes_two_sheets_at_most(
    full_lessons: dict[str, Path], code: str, paper: str
) -> None:
    assert 1 <= sheets(full_lessons[code], paper) <= MOST_SHEETS
