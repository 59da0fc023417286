"""Pictures of the recap as people see it: ``python -m tests.browser.screenshots FOLDER``.

The demonstration's lessons and a full one on a phone, on a desk and in print on A4 and Letter,
each of its pages, in every language. Needs Chromium; prints how high each page is on a
phone and how many sheets it takes.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final

from sqlalchemy.orm import Session

from service.demo import keep_lessons
from service.languages import CODES, Language, language
from service.records import Database, upgrade
from service.records.keeping import lessons, swings
from service.report.branding import Branding
from service.report.recap import render_html
from service.settings import Settings
from service.use_cases.analyse import Analyser
from service.use_cases.history import clips_of
from service.use_cases.recap import Presentation, build_recap, recap_page

PHONE: Final[int] = 390
PAPERS: Final[tuple[str, ...]] = ("A4", "Letter")
WORDS: Final[str] = "#words"
SECOND: Final[str] = "#more"
_FLAGS = (
    "--headless",
    "--no-sandbox",  # may run as root
    "--disable-gpu",
    "--hide-scrollbars",
    "--allow-file-access-from-files",
)
# A headless window is never as narrow as a phone, a frame in it is.
_FRAME = """<html><body style="margin:0"><iframe id="page" src="{file}"
style="width:{width}px;height:9000px;border:0"></iframe><script>
onload = () => {{
  const page = document.getElementById("page");
  const height = page.contentDocument.body.offsetHeight;
  page.style.height = height + "px";
  document.title = "height " + height;
}};
</script></body></html>"""


@contextmanager
def demonstration() -> Iterator[tuple[Session, list[str]]]:
    """The demonstration's records, and the ids of its lessons in their order."""
    with TemporaryDirectory() as folder:
        database = Database(f"sqlite:///{folder}/shots.db")
        upgrade(database)
        last = keep_lessons(database, Analyser.of(Settings()))
        with database.reading() as session:
            visits = lessons.of_player(session, lessons.get(session, last).player_id)
            yield session, [visit.id for visit in visits]
        database.close()


def full_page(session: Session, ids: list[str], told_in: Language) -> str:
    """The last lesson with two keys, the second one taken from the lesson before."""
    recap, earlier = (build_recap(session, lesson, told_in) for lesson in (ids[-1], ids[0]))
    keys = {p.finding.fault: p for p in (*recap.story.priorities, *earlier.story.priorities)}
    assert len(keys) >= 2
    recap = replace(recap, story=replace(recap.story, priorities=tuple(keys.values())[:2]))
    clips = clips_of(session, swings.newest(session, sorted(recap.drawn.swings)))
    return render_html(recap, clips, Branding("Marlow Quay Golf Academy (invented)"))


def phone_height(page: Path, part: str = "") -> int:
    """Height of a page, or of one of :data:`WORDS` and :data:`SECOND`, on a phone in CSS pixels."""
    done = _chromium("--dump-dom", _framed(page, part).as_uri())
    found = re.search(r"<title>height (\d+)</title>", done)
    if found is None:
        raise RuntimeError(f"Chromium did not tell how high {page} is.")
    return int(found[1])


def sheets(page: Path, paper: str) -> int:
    """Write the page as a PDF beside it, on one of :data:`PAPERS`; returns its sheets."""
    sized = page.with_name(f"{page.stem}_{paper}.html")
    text = page.read_text(encoding="utf-8")
    sized.write_text(text.replace("</style>", f"@page {{ size: {paper} }}</style>", 1), "utf-8")
    pdf = sized.with_suffix(".pdf")
    _chromium("--no-pdf-header-footer", f"--print-to-pdf={pdf}", sized.as_uri())
    return len(re.findall(rb"/Type\s*/Page\b", pdf.read_bytes()))


def shoot(page: Path, part: str) -> int:
    """Write pictures of a page, or of a part of it, beside it; returns its height on a phone."""
    height = phone_height(page, part)
    name = f"{page.stem}{part.replace('#', '_')}"
    for kind, url, size in (
        ("phone", _framed(page, part).as_uri(), f"500,{height}"),
        ("desk", f"{page.as_uri()}{part}", f"1280,{height}"),
    ):
        picture = page.with_name(f"{name}_{kind}.png")
        _chromium(f"--screenshot={picture}", f"--window-size={size}", url)
    return height


def main() -> None:
    """Write pages and pictures into the folder that is asked for."""
    folder = Path(sys.argv[1]).resolve()
    folder.mkdir(parents=True, exist_ok=True)
    with demonstration() as (session, ids):
        for code in CODES:
            look = Presentation(language(code))
            told = {f"lesson_{n}": recap_page(session, i, look) for n, i in enumerate(ids, 1)}
            told["full"] = full_page(session, ids, look.language)
            for name, html in told.items():
                page = folder / f"{name}_{code}.html"
                page.write_text(html, encoding="utf-8")
                heights = [shoot(page, part) for part in ("", WORDS, SECOND)]
                printed = ", ".join(f"{sheets(page, paper)} on {paper}" for paper in PAPERS)
                print(f"{page.stem}: {heights} px high on a phone of {PHONE} px; sheets: {printed}")


def _framed(page: Path, part: str) -> Path:
    frame = page.with_name(f"{page.stem}{part.replace('#', '_')}_frame.html")
    frame.write_text(_FRAME.format(file=page.name + part, width=PHONE), encoding="utf-8")
    return frame


def _chromium(*arguments: str) -> str:
    command = [str(shutil.which("chromium")), *_FLAGS, *arguments]
    done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=True)
    return done.stdout


if __name__ == "__main__":
    main()
