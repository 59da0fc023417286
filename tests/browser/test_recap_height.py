"""How long the recap is on a phone and on paper; needs Chromium alone."""

from __future__ import annotations

import re
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path

import pytest

from service.demo import keep_lessons
from service.records import Database, lessons, swings, upgrade
from service.report.recap import render_html
from service.settings import Settings
from service.use_cases.analyse import Analyser
from service.use_cases.history import clips_of
from service.use_cases.recap import build_recap
from tests.browser.screenshots import phone_height

MOST_PIXELS = 3000
MOST_SHEETS = 2

pytestmark = pytest.mark.skipif(
    shutil.which("chromium") is None,
    reason="Chromium is not installed; .ci/browser installs what this test needs",
)


@pytest.fixture(scope="module")
def full_lesson(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A lesson with two keys, the second one taken from the lesson before."""
    folder = tmp_path_factory.mktemp("page")
    database = Database(f"sqlite:///{folder / 'records.db'}")
    upgrade(database)
    last = keep_lessons(database, Analyser.of(Settings()))
    with database.reading() as session:
        first = lessons.of_player(session, lessons.get(session, last).player_id)[0]
        recap, earlier = build_recap(session, last), build_recap(session, first.id)
        keys = (*recap.story.priorities, *earlier.story.priorities)[:2]
        assert len({key.finding.fault for key in keys}) == 2
        recap = replace(recap, story=replace(recap.story, priorities=keys))
        clips = clips_of(session, swings.newest(session, sorted(recap.drawn)))
    database.close()
    page = folder / "page.html"
    page.write_text(render_html(recap, clips), encoding="utf-8")
    return page


def test_a_full_lesson_is_short_on_a_phone(full_lesson: Path) -> None:
    assert full_lesson.read_text(encoding="utf-8").count('<article class="key">') == 2
    assert phone_height(full_lesson) <= MOST_PIXELS


def test_what_is_folded_away_is_there_when_it_is_opened(full_lesson: Path) -> None:
    page = full_lesson.with_name("open.html")
    text = full_lesson.read_text(encoding="utf-8").replace("<details>", "<details open>")
    page.write_text(text, encoding="utf-8")
    assert phone_height(page) > 2 * phone_height(full_lesson)


def test_a_full_lesson_takes_two_sheets_at_most(full_lesson: Path) -> None:
    paper = full_lesson.with_suffix(".pdf")
    command = ["chromium", "--headless", "--no-sandbox", "--disable-gpu"]
    command += [f"--print-to-pdf={paper}", full_lesson.as_uri()]
    subprocess.run(command, capture_output=True, timeout=120, check=True)
    sheets = len(re.findall(rb"/Type\s*/Page\b", paper.read_bytes()))
    assert 1 <= sheets <= MOST_SHEETS
