from __future__ import annotations

from dataclasses import replace

import pytest

from service.analysis.events.detection import Downswing
from service.analysis.events.positions import find_positions
from service.analysis.events.positions.network import network
from service.analysis.laid_out import LaidOut, lay_out
from service.analysis.measured import MeasuredSwing, measure_swing
from service.analysis.types import Position, Source, View
from tests.swings import clip
from training.data.sources import clips_of


def placed(told: LaidOut, swing: Downswing) -> tuple[Position, ...]:
    view = told.orientation.view.value
    return find_positions(told.poses, told.tracks, swing, view, told.point_error)


@pytest.mark.parametrize(("golfer", "number"), [(67, 0), (141, 2)])
def test_a_swing_is_placed_right_though_another_fall_of_the_hands_was_taken_for_it(golfer, number):
    filmed = list(clips_of("shifted", "test", 1, golfer))[number]
    truth = filmed.motion.position_times - filmed.start
    told = lay_out(filmed.recording)
    assert isinstance(told, LaidOut)
    assert told.downswing.low is not None
    low = filmed.recording.times[told.downswing.low]
    assert abs(low - truth[6]) > 0.25  # in the finish, or still on the way down
    found = placed(told, told.downswing)
    assert found[3].time == pytest.approx(truth[3], abs=0.06)
    assert found[6].time == pytest.approx(truth[6], abs=0.033)


def _read_elsewhere(monkeypatch) -> None:
    """Let the network tell of a swing half a length later, wherever it is asked."""

    class Elsewhere:
        def place_all(self, strips, views, frames):
            late = [0.5 * strip.length for strip in strips]
            placed = network().place_all(strips, views, frames)
            return [
                replace(each, times=each.times + off)
                for each, off in zip(placed, late, strict=True)
            ]

    monkeypatch.setattr("service.analysis.events.positions.placement.network", Elsewhere)


def test_what_network_and_thresholds_never_agree_on_is_not_told(monkeypatch):
    told = lay_out(clip(View.FACE_ON, fps=60.0)[1])
    assert isinstance(told, LaidOut)

    _read_elsewhere(monkeypatch)
    found = placed(told, told.downswing)
    others = [p for p in found if p.number not in (4, 7)]
    assert {p.source for p in others} == {Source.NOT_FOUND}
    assert {p.reason.code for p in others if p.reason} == {"too_unsure"}
    assert all(found[n - 1].uncertainty > 0.5 for n in (4, 7))


def test_footage_whose_start_and_finish_are_in_doubt_is_looked_at_whole_and_not_called_cut(
    monkeypatch,
):
    _read_elsewhere(monkeypatch)
    swing = measure_swing(clip(View.FACE_ON, fps=60.0)[1])
    assert isinstance(swing, MeasuredSwing)
    assert swing.positions[0].time is None
    codes = {remark.code for remark in swing.quality.remarks}
    assert not codes & {"clip_starts_late", "clip_stops_early", "picture_squeezed"}
