"""The page of a film as a browser shows it."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

pytest.importorskip("av", reason="PyAV is not installed; the extra video brings it")

from service.demo import clip_body
from service.film.container import Film, look_into
from service.film.page import film_page
from service.languages import language
from service.report.clip import Clip
from service.settings import Settings
from service.use_cases.analyse import Analyser
from tests.browser.test_recap_page import _look, _obstacle
from tests.film.films import write_film


@pytest.fixture(scope="module")
def filmed(tmp_path_factory: pytest.TempPathFactory) -> tuple[Film, Clip]:
    """The demonstration's swing over a lawn."""
    clip = Analyser.of(Settings()).analyse_body(clip_body("face_on"))
    small = replace(clip.recording, points=clip.recording.points / 4)  # of a film soon written
    clip = replace(clip, recording=small)
    n_frames = len(clip.recording.times)
    wide, high = (int(side) + 60 for side in np.nanmax(clip.recording.points, axis=(0, 1)))
    lawn = np.full((high // 2 * 2, wide // 2 * 2, 3), (70, 110, 60), dtype=np.uint8)
    film = write_film(
        tmp_path_factory.mktemp("film") / "swing.mp4",
        [k / 120 for k in range(n_frames)],
        images=[lawn] * n_frames,
    )
    return look_into(film), clip


@pytest.mark.skipif(_obstacle() is not None, reason=_obstacle() or "")
def test_the_page_of_a_film_has_no_violation_no_overflow_and_asks_for_nothing(
    filmed: tuple[Film, Clip], tmp_path: Path
) -> None:
    for look in _look(film_page(*filmed), tmp_path):
        assert look["violations"] == []
        assert look["overflow"] == 0
        assert look["elsewhere"] == []
        assert look["scripts"] == 0


def test_the_page_of_a_film_is_told_in_german_with_the_figures(filmed: tuple[Film, Clip]) -> None:
    page = film_page(*filmed, language("de"))
    assert '<html lang="de">' in page
    assert "Ausschlagen der hinteren Ferse" in page
    assert re.search(r"\d,\d ± \d,\d % der Körpergröße \(Fehler über \d,\d\)\.", page)
    read = re.sub(r"<style>.*?</style>|<[^>]*>", "", page, flags=re.DOTALL)
    for english in ("What was found", "confidence", "Try this", " hip", "frame", "The "):
        assert english not in read, english
