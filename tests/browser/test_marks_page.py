"""The page on which the club is marked, as a browser shows it and a coach uses it."""

from __future__ import annotations

import json
import shutil
import subprocess
from pathlib import Path

import pytest

pytest.importorskip("av", reason="PyAV is not installed; the extra video brings it")

from service.film.club.club_marks import ClubMarks, read_marks
from service.film.club.marks_page import write_marks_page
from tests.browser.test_recap_page import HERE, _obstacle
from tests.film.films import picture, write_film

pytestmark = pytest.mark.skipif(_obstacle() is not None, reason=_obstacle() or "")


def _read(file: str) -> ClubMarks:
    return read_marks(Path(file).read_bytes())


def test_what_is_tapped_is_saved_as_marks_that_can_be_read_and_gone_on_with(tmp_path: Path) -> None:
    film = tmp_path / "swing.mp4"
    write_film(film, [k / 30 for k in range(5)], images=[picture(320, 180)] * 5)
    page = tmp_path / "page.html"
    write_marks_page(film, page)
    command = ["node", str(HERE / "mark.cjs"), str(shutil.which("chromium")), str(page)]
    done = subprocess.run(
        [*command, str(tmp_path)], capture_output=True, text=True, timeout=120, check=False
    )
    assert done.returncode == 0, done.stderr
    for look in json.loads(done.stdout):
        assert look["errors"] == look["violations"] == look["elsewhere"] == []
        assert look["overflow"] == 0
        assert look["suggested"] == "swing.mp4.marks.json"
        first, second = map(_read, look["saved"])
        assert first.film == "swing.mp4"
        assert (first.image_size.width, first.image_size.height) == (320, 180)
        assert [mark.frame for mark in first.marks] == [0, 2]
        assert first.marks[0].grip == pytest.approx((160, 45), abs=1.0)
        assert first.marks[0].clubhead == pytest.approx((240, 90), abs=1.0)
        assert first.marks[1].grip is None
        assert first.marks[1].clubhead == pytest.approx((80, 135), abs=1.0)
        assert second.marks[0] == first.marks[0]
        assert second.marks[1].grip == pytest.approx((160, 90), abs=1.0)
        assert second.marks[1].clubhead is None
        assert "Frame 2, 0.067 s, 3 of 5. 2 frames marked. Not saved yet." in look["told"]
