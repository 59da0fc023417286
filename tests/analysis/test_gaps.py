"""Film that stops and goes on again."""

from __future__ import annotations

from dataclasses import replace

import pytest

from service.analysis.analyse import analyse
from service.demo import clip_body
from service.intake.recording import Limits, to_recording
from service.intake.request import read_request

LIMITS = Limits(min_frames=12, max_frames=5000)


@pytest.mark.parametrize("gap", [0.5, 2.5, 30.0])
@pytest.mark.parametrize("name", ["face_on", "down_the_line"])
def test_a_gap_anywhere_in_the_film_is_survived(name: str, gap: float) -> None:
    recording = to_recording(read_request(clip_body(name)), LIMITS)
    for frame in range(5, len(recording.times), 11):
        times = recording.times.copy()
        times[frame:] += gap
        told = analyse(replace(recording, times=times))
        assert told.swing_found is (told.reason is None)
