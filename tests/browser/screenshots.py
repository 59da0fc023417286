"""Pictures of the recap as people see it: ``python -m tests.browser.screenshots FOLDER``.

The demonstration's lessons on a phone, on a desk and in print, the folded part shut and open.
Needs Chromium; prints how high each page is on a phone.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

from service.demo import keep_lessons
from service.records import Database, lessons, upgrade
from service.settings import Settings
from service.use_cases.analyse import Analyser
from service.use_cases.recap import recap_page

PHONE = 390
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


def pages() -> dict[str, str]:
    """The recap of each of the demonstration's lessons, by a name for its files."""
    with TemporaryDirectory() as folder:
        database = Database(f"sqlite:///{folder}/shots.db")
        upgrade(database)
        last = keep_lessons(database, Analyser.of(Settings()))
        with database.reading() as session:
            visits = lessons.of_player(session, lessons.get(session, last).player_id)
            told = {f"lesson_{n}": recap_page(session, v.id) for n, v in enumerate(visits, 1)}
        database.close()
    return told


def phone_height(page: Path) -> int:
    """Height of a page on a phone in CSS pixels."""
    done = _chromium("--dump-dom", _framed(page).as_uri())
    found = re.search(r"<title>height (\d+)</title>", done)
    if found is None:
        raise RuntimeError(f"Chromium did not tell how high {page} is.")
    return int(found[1])


def shoot(page: Path) -> int:
    """Write pictures of a page beside it; returns its height on a phone."""
    height = phone_height(page)
    for name, url, size in (
        ("phone", _framed(page).as_uri(), f"500,{height}"),
        ("desk", page.as_uri(), f"1280,{height}"),
    ):
        picture = page.with_name(f"{page.stem}_{name}.png")
        _chromium(f"--screenshot={picture}", f"--window-size={size}", url)
    _chromium(f"--print-to-pdf={page.with_suffix('.pdf')}", page.as_uri())
    return height


def main() -> None:
    """Write pages and pictures into the folder that is asked for."""
    folder = Path(sys.argv[1]).resolve()
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in pages().items():
        for kind, html in (("", text), ("_open", text.replace("<details>", "<details open>"))):
            page = folder / f"{name}{kind}.html"
            page.write_text(html, encoding="utf-8")
            print(f"{page.stem}: {shoot(page)} px high on a phone of {PHONE} px")


def _framed(page: Path) -> Path:
    frame = page.with_name(f"{page.stem}_frame.html")
    frame.write_text(_FRAME.format(file=page.name, width=PHONE), encoding="utf-8")
    return frame


def _chromium(*arguments: str) -> str:
    command = [str(shutil.which("chromium")), *_FLAGS, *arguments]
    done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=True)
    return done.stdout


if __name__ == "__main__":
    main()
