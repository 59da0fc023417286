"""Clips that begin or end within a swing: what lies outside is not told, nor judged by."""

import dataclasses

import numpy as np
import pytest

from service.analysis.analyse import analyse
from service.analysis.faults import CATALOGUE, MEASURES
from service.analysis.types import Source, View
from tests.swings import clip, cut, random_clip

FRAME = 0.034


def from_within(motion, recording, number, share):
    """The clip from some share of the way between a position and the next, and its true times."""
    times = motion.position_times
    start = times[number - 1] + share * (times[number] - times[number - 1])
    first = recording.times[recording.times >= start][0]
    return cut(recording, start, np.inf), times - first


def needed(result, fault):
    """The positions that a fault is judged by in this view."""
    criteria = CATALOGUE[fault].criteria.get(result.view.value, ())
    return {number for criterion in criteria for number in criterion.measure.needs_positions}


def check_nothing_hangs_on_what_is_cut_off(result, times, last):
    """``times`` are the true ones of P1 to P10 by the clock of the clip, which ends at ``last``."""
    cut_off = {n for n, time in enumerate(times, 1) if not -FRAME <= time <= last + FRAME}
    told = {p.number for p in result.positions if p.source is not Source.NOT_FOUND}
    start = result.positions[0]
    if 1 in told & cut_off:  # the clip begins with the takeaway, and its first frame stands for P1
        assert start.source is Source.INFERRED
        assert start.time == pytest.approx(0.0, abs=FRAME)
        assert abs(start.time - times[0]) <= 2.0 * start.uncertainty
        cut_off.remove(1)
    assert not told & cut_off
    codes = {result.positions[n - 1].reason.code for n in cut_off}
    assert codes <= {"clip_starts_late", "clip_stops_early"}
    for finding in result.findings:
        if finding.status.is_decided:
            assert not needed(result, finding.fault) & cut_off


@pytest.mark.parametrize("view", list(View))
@pytest.mark.parametrize("share", [0.1, 0.3, 0.6])
def test_the_top_of_a_clip_that_begins_on_the_way_down_is_left_open(view, share):
    for seed in range(4):
        motion, recording = random_clip(seed, view, fps=(30.0, 60.0, 120.0, 240.0)[seed])
        part, times = from_within(motion, recording, 4, share)
        result = analyse(part)
        assert result.swing_found
        assert result.positions[3].reason.code == "clip_starts_late"
        assert result.positions[6].time == pytest.approx(times[6], abs=FRAME)
        assert {r.code for r in result.quality.remarks} >= {"clip_starts_late"}
        check_nothing_hangs_on_what_is_cut_off(result, times, part.times[-1])


@pytest.mark.parametrize("view", list(View))
@pytest.mark.parametrize(("number", "share"), [(1, 0.4), (1, 0.7), (2, 0.5), (3, 0.5)])
def test_nothing_is_held_against_an_address_before_the_clip(view, number, share):
    for seed in range(4):
        motion, recording = random_clip(seed, view, fps=(30.0, 60.0, 120.0, 240.0)[seed])
        part, times = from_within(motion, recording, number, share)
        result = analyse(part)
        assert result.positions[3].time == pytest.approx(times[3], abs=2 * FRAME)
        check_nothing_hangs_on_what_is_cut_off(result, times, part.times[-1])


@pytest.mark.parametrize("view", list(View))
def test_an_address_seen_for_half_a_tenth_of_a_second_is_told_but_not_as_observed(view):
    motion, recording = random_clip(3, view, fps=60.0)
    start = motion.position_times[0] - 0.05
    address = analyse(cut(recording, start, np.inf)).positions[0]
    assert address.source is not Source.OBSERVED
    if address.time is not None:
        assert address.time == pytest.approx(0.05, abs=2.0 * address.uncertainty)


@pytest.mark.parametrize("view", list(View))
def test_the_first_frame_of_a_clip_that_begins_with_the_takeaway_is_taken_for_address(view):
    motion, recording = random_clip(1, view, fps=60.0)
    part = cut(recording, motion.position_times[0] + 0.05, np.inf)
    result = analyse(part)
    assert result.positions[0].source is Source.INFERRED
    assert result.positions[0].time == pytest.approx(0.0, abs=FRAME)
    assert "address_inferred" in result.quality.codes
    told = {measure.name for measure in result.measures if measure.value is not None}
    assert told & {measure.name for measure in MEASURES if 1.0 in measure.against}


@pytest.mark.parametrize("view", list(View))
def test_the_first_frame_is_no_address_where_the_takeaway_is_well_on_its_way(view):
    motion, recording = random_clip(1, view, fps=60.0)
    part = cut(recording, motion.position_times[1], np.inf)
    result = analyse(part)
    assert result.positions[0].source is Source.NOT_FOUND
    assert "clip_starts_late" in result.quality.codes


@pytest.mark.parametrize("view", list(View))
@pytest.mark.parametrize(("number", "share"), [(8, 0.5), (9, 0.3), (9, 0.6), (9, 0.9)])
def test_a_finish_after_the_end_of_the_clip_is_left_open(view, number, share):
    for seed in range(4):
        motion, recording = random_clip(seed, view, fps=(30.0, 60.0, 120.0, 240.0)[seed])
        times = motion.position_times
        end = times[number - 1] + share * (times[number] - times[number - 1])
        part = cut(recording, 0.0, end)
        result = analyse(part)
        assert result.positions[9].reason.code == "clip_stops_early"
        check_nothing_hangs_on_what_is_cut_off(result, times, part.times[-1])


def test_a_finish_that_holds_to_the_end_of_the_clip_is_told():
    motion, recording = clip(View.FACE_ON)
    end = motion.position_times[9] + 0.15
    finish = analyse(cut(recording, 0.0, end)).positions[9]
    assert finish.source is Source.OBSERVED
    assert finish.time == pytest.approx(motion.position_times[9], abs=2 * FRAME)


@pytest.mark.parametrize("view", list(View))
def test_a_clip_that_begins_in_a_pause_at_the_top_shows_where_the_way_down_starts(view):
    motion, recording = clip(view, pause_at_top=0.6)
    start = motion.position_times[3] - 0.35
    top = analyse(cut(recording, start, np.inf)).positions[3]
    assert top.source is Source.OBSERVED
    assert top.time == pytest.approx(motion.position_times[3] - start, abs=0.05)


def test_a_stop_that_was_asked_for_is_left_open_where_the_clip_begins_after_it():
    motion, recording = clip(View.FACE_ON)
    part = cut(recording, motion.position_times[3] + 0.1, np.inf)
    stopped = analyse(dataclasses.replace(part, stop_at=3.5)).stopped_at
    assert stopped.value is None
    assert stopped.reason.code == "clip_starts_late"


def test_a_piece_of_the_way_down_alone_is_no_swing():
    motion, recording = clip(View.FACE_ON)
    times = motion.position_times
    result = analyse(cut(recording, times[3] + 0.05, times[6] - 0.05))
    assert not any(f.status.is_decided for f in result.findings)
