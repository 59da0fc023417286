"""The targets that ``python -m tests.reference.real_swings`` prints, held."""

import pytest

from service.analysis.types import Status
from tests.reference import clips, real_swings
from tests.reference.real_swings import NEVER_SEEN
from tests.taking_turns import made_once

pytestmark = [
    pytest.mark.reference,
    pytest.mark.skipif(
        not clips.available(),
        reason="the annotated clips are research data outside the project; set "
        "SWING_REFERENCE_DIR to the folder that holds them",
    ),
]


@pytest.fixture(scope="module")
def golf():
    return made_once("real swings", real_swings.swings)


@pytest.fixture(scope="module")
def other():
    return made_once("other actions", real_swings.others)


@pytest.fixture(scope="module")
def targets(golf, other):
    return real_swings.targets(golf, other)


def test_every_file_was_read_whole(golf, other):
    assert (len(golf), len(other)) == (30 + 89 + 30, 18 + 1169 + 59)


@pytest.mark.parametrize(
    "about", ["found", "P4", "P7", "view", "bat swings", "other actions", "of them", "verdicts"]
)
def test_the_targets_are_met(targets, about):
    told = [target for target in targets if target.name.startswith(about)]
    assert told
    assert not [str(target) for target in told if not target.met]


def test_what_needs_feet_or_a_club_is_left_open_where_neither_was_annotated(golf):
    annotated = [s for s in golf if s.file != "estimated_golf_clips"]
    said = [f for s in annotated for f in s.analysis.findings if f.fault in NEVER_SEEN]
    assert said
    assert {f.status for f in said} == {Status.NOT_ASSESSABLE}


@pytest.mark.parametrize("fault", ["trunk_straightens", "hips_toward_ball", "hips_past_lead_foot"])
def test_most_real_swings_are_not_called_faulty(golf, fault):
    said = real_swings.said_of(fault, golf)
    decided = said[Status.PRESENT] + said[Status.ABSENT]
    assert decided >= 20
    assert said[Status.PRESENT] <= 0.2 * decided


def test_every_clip_without_a_swing_says_why(golf, other):
    without = [c.analysis for c in (*golf, *other) if not c.analysis.swing_found]
    assert without
    assert all(analysis.reason and analysis.reason.text for analysis in without)


def test_no_film_of_known_rate_is_said_to_play_slow(golf):
    known = [s.analysis for s in golf if s.file != "golf_clips_2" and s.analysis.swing_found]
    assert len(known) == 59
    assert not [r for a in known for r in a.quality.remarks if r.code == "plays_slow"]


def test_no_real_clip_is_called_cut_or_squeezed(golf):
    codes = {remark.code for swing in golf for remark in swing.analysis.quality.remarks}
    assert "club_not_seen" in codes
    assert not codes & {"film_cut", "picture_squeezed"}
