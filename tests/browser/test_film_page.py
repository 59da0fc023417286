"""The page of a film as a browser shows it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

pytest.importorskip("av", reason="PyAV is not installed; the extra video brings it")

from service.demo import clip_body
from service.film.container import look_into
from service.film.page import film_page
from service.settings import Settings
from service.use_cases.analyse import Analyser
from tests.browser.test_recap_page import _look, _obstacle
from tests.film.films import write_film

pytestmark = pytest.mark.skipif(_obstacle() is not None, reason=_obstacle() or "")


def test_the_page_of_a_film_has_no_violation_no_overflow_and_asks_for_nothing(
    tmp_path: Path,
) -> None:
    clip = Analyser.of(Settings()).analyse_body(clip_body("face_on"))
    small = replace(clip.recording, points=clip.recording.points / 4)  # of a film soon written
    clip = replace(clip, recording=small)
    n_frames = len(clip.recording.times)
    wide, high = (int(side) + 60 for side in np.nanmax(clip.recording.points, axis=(0, 1)))
    lawn = np.full((high // 2 * 2, wide // 2 * 2, 3), (70, 110, 60), dtype=np.uint8)
    film = write_film(
        tmp_path / "swing.mp4", [k / 120 for k in range(n_frames)], images=[lawn] * n_frames
    )
    for look in _look(film_page(look_into(film), clip), tmp_path):
        assert look["violations"] == []
        assert look["overflow"] == 0
        assert look["elsewhere"] == []
        assert look["scripts"] == 0
