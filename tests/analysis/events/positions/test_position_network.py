from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import norm

from service.analysis.analyse import analyse
from service.analysis.events.positions import find_positions
from service.analysis.events.positions.network import (
    ALLOWED,
    LABEL,
    PositionEstimates,
    network,
    read_off,
)
from service.analysis.events.positions.searches.scene import Found
from service.analysis.events.positions.strip import N_ABOUT, N_SIGNALS, Strip, strip_of
from service.analysis.events.positions.strip_clock import N_MOMENTS, N_SAMPLES
from service.analysis.laid_out import LaidOut, lay_out
from service.analysis.types import Source, View
from tests.swings import CLUB, clip, random_clip, without
from training.simulator import FaultAmounts


@pytest.mark.parametrize("view", list(View))
def test_start_top_and_finish_are_mostly_within_a_frame_of_ordinary_video(view):
    hits = []
    for seed in range(40):
        motion, recording = random_clip(1000 + seed, view, fps=60.0)
        found = analyse(recording).positions
        hits += [
            found[n - 1].time is not None
            and abs(found[n - 1].time - motion.position_times[n - 1]) <= 0.033
            for n in (1, 4, 10)
        ]
    assert np.mean(hits) >= 0.85


def even_strip() -> Strip:
    clock = np.linspace(3.0, 6.0, N_MOMENTS)
    nothing = np.zeros((N_SAMPLES, N_SIGNALS), dtype=np.float32)
    return Strip(nothing, np.zeros(N_ABOUT, dtype=np.float32), clock, 1.5)


def chances_about(*moments: tuple[float, float, float]) -> np.ndarray:
    """Chances of ten positions alike: the sum of bells of a weight, a middle and a spread."""
    clock = even_strip().clock
    one = sum(weight * norm.pdf(clock, middle, spread) for weight, middle, spread in moments)
    return np.tile(one / np.sum(one), (10, 1))


def test_a_position_is_where_most_of_the_chance_lies_within_the_error_allowed():
    told = read_off(chances_about((0.6, 4.2, 0.02), (0.4, 5.0, 0.005)), even_strip())
    assert told.times == pytest.approx(4.2, abs=0.002)
    broad = read_off(chances_about((0.6, 4.2, 0.30), (0.4, 5.0, 0.005)), even_strip())
    assert broad.times == pytest.approx(5.0, abs=0.002)


def test_what_the_network_was_taught_is_taken_off_the_spread():
    taught = LABEL * ALLOWED
    told = read_off(chances_about((1.0, 4.0, float(np.hypot(taught, 0.04)))), even_strip())
    assert told.spread == pytest.approx(0.04, rel=0.02)


def test_chance_between_samples_is_told_between_samples():
    for middle in np.linspace(4.0, 4.02, 7):
        told = read_off(chances_about((1.0, middle, 0.012)), even_strip())
        assert told.times == pytest.approx(middle, abs=0.001)


def laid(recording) -> LaidOut:
    told = lay_out(recording)
    assert isinstance(told, LaidOut)
    return told


def strip_at(told: LaidOut) -> Strip | None:
    view = told.orientation.view.value
    about = told.poses, told.tracks, told.downswing, view, told.point_error
    rough = find_positions(*about, refined=False)
    times = {p.number: p.time for p in rough if p.time is not None}
    return strip_of(told.poses, told.tracks, view, told.point_error, times)


@pytest.mark.parametrize("club", [True, False])
@pytest.mark.parametrize("view", list(View))
def test_the_network_reads_the_strip_of_a_swing(view, club):
    _, recording = random_clip(1000, view, fps=30.0)
    told = laid(recording if club else without(recording, CLUB))
    strip = strip_at(told)
    assert strip is not None
    assert strip.signals.shape == (N_SAMPLES, N_SIGNALS)
    assert np.isfinite(strip.signals).all()
    (placed,) = network().place_all((strip,), (view,), np.array([told.tracks.frame]))
    assert (np.diff(placed.times) > 0.0).all()
    assert (placed.spread > 0.0).all()


def test_a_swing_looks_alike_at_any_frame_rate():
    _, coarse = clip(View.FACE_ON, fps=60.0)
    _, fine = clip(View.FACE_ON, fps=240.0)
    first, second = (strip_at(laid(recording)) for recording in (coarse, fine))
    assert first is not None
    assert second is not None
    assert np.median(np.abs(first.signals - second.signals)) < 0.02


def test_where_in_the_picture_the_player_stands_does_not_matter_though_points_are_never_seen():
    seen = without(clip(View.FACE_ON, fps=60.0)[1], CLUB)
    moved = replace(seen, points=0.37 * seen.points + 500.0)
    here, there = (strip_at(laid(recording)) for recording in (seen, moved))
    assert here is not None
    assert there is not None
    np.testing.assert_allclose(here.signals, there.signals, atol=1e-3)


def test_moments_that_do_not_follow_each_other_hold_no_strip():
    told = laid(clip(View.FACE_ON, fps=60.0)[1])
    about = told.poses, told.tracks, View.FACE_ON, told.point_error
    assert strip_of(*about, {1: 1.0, 4: 0.5, 7: 2.0}) is None
    assert strip_of(*about, {4: 1.0}) is None
    assert strip_of(*about, {1: 0.5, 4: 1.2}) is not None


def test_a_position_is_not_moved_beyond_belief_and_is_less_sure_where_it_would_be(monkeypatch):
    told = laid(clip(View.FACE_ON, fps=60.0)[1])
    about = told.poses, told.tracks, told.downswing, View.FACE_ON, told.point_error
    rough = find_positions(*about, refined=False)

    class Far:
        def place_all(self, strips, views, frames):
            (placed,) = network().place_all(strips, views, frames)
            late = np.where(np.arange(1, 11) == 7, 0.1, 0.0)
            return [replace(placed, times=placed.times + late)]

    monkeypatch.setattr("service.analysis.events.positions.placement.network", Far)
    impact, before = find_positions(*about)[6], rough[6]
    assert before.time < impact.time < before.time + 0.08
    assert impact.uncertainty > 0.03


def test_a_level_arm_that_is_seen_has_a_say_beside_the_network_by_how_sure_it_is(monkeypatch):
    told = laid(clip(View.FACE_ON, fps=60.0)[1])
    about = told.poses, told.tracks, told.downswing, View.FACE_ON, told.point_error
    rough = find_positions(*about, refined=False)
    spread = np.array([p.uncertainty for p in rough]) * np.array([1, 1, 1, 1, 1, 1, 1, 1, 2, 1])

    class Late:
        def place_all(self, strips, views, frames):
            return [PositionEstimates(np.array([p.time for p in rough]) + 0.04, spread)]

    monkeypatch.setattr("service.analysis.events.positions.placement.network", Late)
    late = [
        found.time - before.time
        for found, before in zip(find_positions(*about), rough, strict=True)
    ]
    assert late[2] == pytest.approx(0.04 / 2)  # as sure as the network
    assert late[4] == pytest.approx(0.04)  # too far apart: one of them has misread the clip
    assert late[8] == pytest.approx(0.04 / 17)  # twice as sure, and weighed as twice that


@pytest.mark.parametrize(("unsure", "network_tells"), [(0.05, True), (0.5, False)])
def test_a_start_before_which_no_rest_is_seen_is_the_networks_where_it_surely_is_in_the_clip(
    monkeypatch, unsure, network_tells
):
    motion, recording = clip(View.FACE_ON, fps=60.0)
    told = laid(recording)
    about = told.poses, told.tracks, told.downswing, View.FACE_ON, told.point_error
    start = motion.position_times[0]
    rough = find_positions(*about, refined=False)

    class Sure:
        def place_all(self, strips, views, frames):
            times = np.array([p.time for p in rough])
            spread = np.full(10, 0.01)
            times[0], spread[0] = start, unsure * start
            return [PositionEstimates(times, spread)]

    placement = "service.analysis.events.positions.placement"
    monkeypatch.setattr(f"{placement}.network", Sure)
    late = Found(start + 0.2, 0.15, inferred=True)
    monkeypatch.setattr(f"{placement}.find_takeaway", lambda *_: late)
    first = find_positions(*about)[0]
    assert first.time == pytest.approx(start if network_tells else late.time)
    assert first.source is Source.INFERRED


@pytest.mark.parametrize("rise", [0.0, 1.5])
@pytest.mark.parametrize("view", list(View))
def test_a_handle_that_rises_through_impact_does_not_bring_impact_forward(view, rise):
    amounts = FaultAmounts(handle_rise=rise)
    swing, recording = clip(view, amounts=amounts, fps=60.0)
    found = analyse(without(recording, CLUB)).positions[6]
    assert found.time == pytest.approx(swing.position_times[6], abs=0.02)
