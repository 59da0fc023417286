"""The recap of a lesson from its films, whose pictures are of one colour each."""

from __future__ import annotations

import base64
import io
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import date
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest

pytest.importorskip("av", reason="PyAV is not installed; the extra video brings it")

import av

from service.__main__ import main
from service.analysis.types import SwingRecording
from service.film import command
from service.film.container import look_into
from service.film.photos import photos
from service.report.pictures.still import Window
from tests.film.films import FPS, HEIGHT, WIDTH, StandIn, in_a_picture, write_film
from tests.swings import clip
from training.simulator import FaultAmounts

BEFORE, STILL, AFTER = 40, 120, 200
"""How blue the films are."""
DULLED = (2.5, 0.9)
"""Pixels that the codecs of film and still, each darkening a little, take off a place told so."""
VAGUE = 2.4
"""Pixels to which, on average, a colour tells a place, the frame being the best of all."""
SVG, IMAGE = "{http://www.w3.org/2000/svg}", "<image"


@pytest.fixture(scope="module")
def swings() -> tuple[SwingRecording, SwingRecording]:
    """A swing with a fault that bodies alone show, and a better one."""
    amounts = FaultAmounts(upper_body_drift=1.8), FaultAmounts(upper_body_drift=1.3)
    before, after = (in_a_picture(clip(amounts=a, fps=FPS)[1]) for a in amounts)
    return before, after


@pytest.fixture
def films(
    swings: tuple[SwingRecording, SwingRecording], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> list[str]:
    """Films of before, of somebody standing still and of after; their colours tell the place."""
    before, after = swings
    still = replace(before, points=np.repeat(before.points[:1], 40, axis=0))
    shown = iter([before, still, after])

    @contextmanager
    def stand_in() -> Iterator[StandIn]:
        yield StandIn(next(shown))

    monkeypatch.setattr(command, "pose_model", stand_in)
    lengths = (len(before.times), 40, len(after.times))
    return [
        str(_write(tmp_path / f"{name}.mp4", n, _telling_place(blue)))
        for name, n, blue in zip("abc", lengths, (BEFORE, STILL, AFTER), strict=True)
    ]


def _telling_place(blue: int) -> np.ndarray:
    """A picture whose red grows by one a column and whose green by two a row."""
    across, down = np.meshgrid(np.arange(WIDTH), np.arange(HEIGHT))
    return np.stack([across, down * 2, np.full_like(across, blue)], axis=2).astype(np.uint8)


def _write(path: Path, n_frames: int, image: np.ndarray) -> Path:
    times = [k / FPS for k in range(n_frames)]
    return write_film(path, times, images=[image] * n_frames, rate=FPS)


def _beside_its_joints(drawn: ElementTree.Element, swing: SwingRecording, blue: int) -> float:
    """Mean distance of the film under the drawn joints from the joints of the nearest frame."""
    (image,) = drawn.findall(f"{SVG}image")
    jpeg = base64.b64decode(image.attrib["href"].removeprefix("data:image/jpeg;base64,"))
    pixels = _pixels(jpeg)
    assert pixels[..., 2].mean() == pytest.approx(blue, abs=12)
    x, y, width, height = (float(image.attrib[n]) for n in ("x", "y", "width", "height"))
    joints = np.array(
        [
            (float(c.attrib["cx"]), float(c.attrib["cy"]))
            for c in drawn.iter(f"{SVG}circle")
            if c.get("r") == "3.5"
        ]
    )
    inside = (joints - (x, y)) / (width, height)
    inside = inside[((inside > 0.02) & (inside < 0.98)).all(axis=1)]
    assert len(inside) >= 4
    columns, rows = (inside * pixels.shape[1::-1]).astype(int).T
    places = pixels[rows, columns, :2] / (1.0, 2.0) + DULLED
    away = np.hypot(*(places[:, None, None] - swing.points * (WIDTH, HEIGHT)).transpose(3, 0, 1, 2))
    return float(np.nanmin(away, axis=2).mean(axis=0).min())


def _pixels(jpeg: bytes) -> np.ndarray:
    with av.open(io.BytesIO(jpeg), format="mjpeg") as container:
        return next(container.decode(video=0)).to_ndarray(format="rgb24")


def test_the_page_shows_each_films_own_frames_under_its_drawing(
    films: list[str],
    swings: tuple[SwingRecording, SwingRecording],
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    page = tmp_path / "pages" / "lesson.html"
    order = [*films, "--recap", str(page), "--player", "Ines <Calder>"]
    assert main(["analyse", *order]) == 0
    told = capsys.readouterr()
    assert f"Recap: {page}" in told.out
    assert f"{films[1]} is left out of the recap: " in told.err

    text = page.read_text(encoding="utf-8")
    figure = next(f for f in re.findall(r"<figure>.*?</figure>", text, re.DOTALL) if IMAGE in f)
    assert text.index('class="key"') < text.index(figure) < text.index('class="second"')
    key = ElementTree.fromstring(figure[figure.index("<svg") : figure.rindex("</svg>") + 6])
    panels = [g for g in key.findall(f"{SVG}g") if g.find(f"{SVG}svg") is not None]
    assert ["".join(panel.itertext()).split()[0] for panel in panels] == ["Before", "After"]
    for panel, swing, blue in zip(panels, swings, (BEFORE, AFTER), strict=True):
        drawn = panel.find(f"{SVG}svg")
        assert drawn is not None
        assert _beside_its_joints(drawn, swing, blue) < VAGUE

    assert "Ines &lt;Calder&gt;" in text
    assert str(date.today().year) in text
    assert not re.search(r'(href|src)="(?!data:|#)', text)
    assert "<script" not in text
    assert len(text) < 500_000


def test_films_of_which_none_gives_a_swing_make_no_page(
    films: list[str],
    swings: tuple[SwingRecording, SwingRecording],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    (tmp_path / "bad.mp4").write_text("no film")
    still = replace(swings[0], points=np.repeat(swings[0].points[:1], 40, axis=0))

    @contextmanager
    def stand_in() -> Iterator[StandIn]:
        yield StandIn(still)

    monkeypatch.setattr(command, "pose_model", stand_in)
    page = tmp_path / "lesson.html"
    given = [str(tmp_path / "bad.mp4"), films[1], "--recap", str(page)]
    assert main(["analyse", *given]) == 2
    told = capsys.readouterr().err
    assert "bad.mp4 can't be read as a film" in told
    assert "can't make the recap: none of the films gives a swing" in told
    assert not page.exists()


def test_what_does_not_go_together_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for given, told in (
        (["request.json", "--recap", "a.html"], "--recap is for films, and request.json is"),
        (["a.mp4", "request.json"], "request.json is a request: give it alone"),
        (["a.mp4", "--player", "Ines"], "--player is for the page of --recap"),
        (["a.mp4", "a.mp4"], "a.mp4 is given twice"),
        (["x/a.mp4", "y/a.mp4", "--out", str(tmp_path)], "a.mp4 is given twice"),
    ):
        assert main(["analyse", *given]) == 2
        assert told in capsys.readouterr().err


def test_a_photo_is_the_part_of_the_picture_that_it_says(tmp_path: Path) -> None:
    film = look_into(_write(tmp_path / "a.mp4", 3, _telling_place(60)))
    windows = {
        0: Window(100.0, 30.0, 60.0, 40.0),
        1: Window(-20.0, 80.0, 60.0, 60.0),  # reaches out of the picture
        2: Window(10.0, 108.0, 60.0, 40.0),  # lies below it
    }
    taken = photos(film, windows, wide=48.0)
    assert set(taken) == {0, 1}
    for photo in taken.values():
        pixels, part = _pixels(photo.jpeg), photo.window
        assert pixels.shape[1] <= 48
        middle = part.left + part.width / 2, 2 * (part.top + part.height / 2)
        assert np.allclose(pixels.mean((0, 1))[:2], middle, atol=5)
    assert taken[1].window.left == 0.0
    assert taken[1].window.top + taken[1].window.height == pytest.approx(HEIGHT, abs=2.0)


def test_a_photo_is_no_larger_than_was_asked_however_busy_the_picture(tmp_path: Path) -> None:
    noise = np.random.default_rng(1).integers(0, 256, (240, 320, 3), dtype=np.uint8)
    film = look_into(write_film(tmp_path / "a.mp4", [0.0], images=[noise], rate=10))
    window = {0: Window(0.0, 0.0, 320.0, 240.0)}
    assert len(photos(film, window, wide=320.0)[0].jpeg) > 12_000
    (photo,) = photos(film, window, wide=320.0, most_bytes=4_000).values()
    assert len(photo.jpeg) <= 4_000
    assert photo.window == window[0]
