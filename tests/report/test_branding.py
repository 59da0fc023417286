"""An academy's own name, colour and logo on the page."""

from __future__ import annotations

import io
import re
from datetime import date
from pathlib import Path

import pytest
from PIL import Image
from pydantic import ValidationError

from service.app import create_app
from service.report.branding import LARGEST_LOGO, Branding, branding_of, contrast, readable
from service.report.recap import render_html
from service.settings import Settings
from service.use_cases.recap import recap_of
from tests.report.parsed import Page
from tests.report.visits import visit

COLOURS = ["#0b3d91", "#ffd400", "#ffffff", "#FF0000", "#00ff00", "#123456", "#7f7f7f"]


def _logo(folder: Path, kind: str) -> Path:
    path = folder / f"logo.{kind.lower()}"
    picture = io.BytesIO()
    Image.new("RGB", (40, 20), "navy").save(picture, kind)
    path.write_bytes(picture.getvalue())
    return path


def _page(branding: Branding) -> str:
    return render_html(recap_of("Ada", [visit(day=date(2025, 5, 20))]), {}, branding)


@pytest.mark.parametrize("kind", ["PNG", "JPEG"])
def test_name_colour_and_logo_are_on_the_page_and_nothing_is_fetched(
    tmp_path: Path, kind: str
) -> None:
    page = _page(branding_of("Marlow <Quay>", "#7a1f3d", _logo(tmp_path, kind)))
    parsed = Page(page)
    assert "Marlow <Quay>" in parsed.text
    assert "--lead: #7a1f3d" in page
    (image,) = [attributes for tag, attributes in parsed.tags if tag == "img"]
    assert re.fullmatch(rf"data:image/{kind.lower()};base64,[A-Za-z0-9+/]+=*", image["src"] or "")
    assert not re.search(r"https?:|url\(|@import", re.sub(r'xmlns="[^"]*"', "", page))


def test_without_settings_the_page_names_no_academy() -> None:
    page = _page(branding_of(None, None, None))
    assert 'class="academy"' not in page
    assert "<img" not in page


@pytest.mark.parametrize("colour", COLOURS)
def test_every_colour_can_be_read_on_white(colour: str) -> None:
    told = readable(colour)
    shade = tuple(int(told[i : i + 2], 16) for i in (1, 3, 5))
    assert contrast(shade, (255, 255, 255)) >= 4.5
    if contrast(tuple(int(colour[i : i + 2], 16) for i in (1, 3, 5)), (255, 255, 255)) >= 4.5:
        assert told == colour.lower()  # what can be read already stays as it is


@pytest.mark.parametrize(
    ("one", "other", "ratio"),
    # Published examples: black on white, and the palest grey that passes on white.
    [((0, 0, 0), (255, 255, 255), 21.0), ((118, 118, 118), (255, 255, 255), 4.54)],
)
def test_contrast_is_that_of_the_guideline(one, other, ratio) -> None:
    assert contrast(one, other) == pytest.approx(ratio, abs=0.005)
    assert contrast(other, one) == contrast(one, other)


def test_a_logo_that_is_no_picture_is_refused_at_the_start(tmp_path: Path) -> None:
    drawing = tmp_path / "logo.svg"
    drawing.write_text("<svg xmlns='http://www.w3.org/2000/svg'><script/></svg>")
    huge = tmp_path / "huge.png"
    huge.write_bytes(b"\x89PNG\r\n\x1a\n" + bytes(LARGEST_LOGO))
    for path, why in (
        (drawing, "neither a PNG nor a JPEG"),
        (huge, "larger than"),
        (tmp_path / "nowhere.png", "can't be read"),
    ):
        with pytest.raises(ValueError, match=why):
            create_app(Settings(academy_logo=path, database_url=""))


@pytest.mark.parametrize("colour", ["red", "#12345", "#gggggg", "#123456;}body{display:none"])
def test_what_is_no_colour_is_refused(colour: str) -> None:
    with pytest.raises(ValidationError, match="academy_colour"):
        Settings(academy_colour=colour)
    with pytest.raises(ValueError, match="no colour"):
        readable(colour)
