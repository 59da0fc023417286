"""Findings on simulated swings, and the reasons why a fault can't be told."""

import dataclasses
from pathlib import Path

import numpy as np
import pytest

from service.analysis.analyse import analyse
from service.analysis.faults import CATALOGUE
from service.analysis.judging.estimates import Estimate, with_estimates
from service.analysis.judging.weighing import criteria_of, weigh
from service.analysis.measured import measure_swing
from service.analysis.pose.points import Point
from service.analysis.types import Grade, Intent, Status, View
from tests.analysis.judging.one import finding_of
from tests.swings import CLUB, FEET, clip, cut, finding, random_clip, without
from training.data.truth import true_measures
from training.simulator import FaultAmounts

SEEN = [(definition, view) for definition in CATALOGUE.values() for view in definition.views]
NAMED = [f"{d.name}-{v.value}" for d, v in SEEN]
WRISTS = (Point.LEAD_WRIST, Point.TRAIL_WRIST)
NEEDED = [
    pytest.param(definition, view, point, id=f"{definition.name}-{view.value}-{point.label}")
    for definition, view in SEEN
    for point in definition.needs(view)
    if point not in WRISTS  # without both hands no swing is found at all
]
FULL = 1.25
FULLER = {"hurried_transition": 1.5}
"""Down the line P1 and P4 are told too roughly for less to be sure."""


def full(definition):
    return FULLER.get(definition.name, FULL)


def judged(definition, view, amount, **options):
    _, recording = clip(view, amounts=FaultAmounts(**{definition.name: amount}), **options)
    return finding(analyse(recording), definition.name), recording


def truly_marked(definition, view):
    """Whether the fault is a marked one in space too."""
    motion, _ = clip(view, amounts=FaultAmounts(**{definition.name: full(definition)}))
    truth = true_measures(motion, view).values
    leading = definition.criteria[view][0]
    return leading.excess(truth[leading.measure.name].value) >= leading.excess(leading.marked)


def rule_score(definition, view, amount):
    """What the rule makes of what was measured, whether or not that is sure enough to judge by."""
    _, recording = clip(view, amounts=FaultAmounts(**{definition.name: amount}))
    values = measure_swing(recording).values
    measured = [values[c.measure.name] for c in definition.criteria[view]]
    return weigh(criteria_of((definition,), view), [measured]).scores[0, 0]


@pytest.mark.parametrize(("definition", "view"), SEEN, ids=NAMED)
def test_a_fault_is_not_found_in_a_clean_swing_and_is_present_in_a_marked_one(definition, view):
    clean, _ = judged(definition, view, 0.0)
    faulty, recording = judged(definition, view, full(definition))
    assert clean.status in (Status.ABSENT, Status.NOT_ASSESSABLE)
    assert rule_score(definition, view, 0.0) < 0.35
    assert rule_score(definition, view, full(definition)) > 0.6
    if truly_marked(definition, view):  # else the simulated body reaches no further
        assert faulty.status is Status.PRESENT
    if faulty.status is Status.PRESENT:
        assert 0 <= faulty.shows_most.frame < len(recording.times)
        assert faulty.span[0].frame <= faulty.shows_most.frame <= faulty.span[1].frame
        assert faulty.severity == faulty.evidence[0].value


@pytest.mark.parametrize(("definition", "view"), SEEN, ids=NAMED)
def test_the_score_grows_with_the_fault(definition, view):
    scores = [rule_score(definition, view, amount) for amount in (0.0, 0.6, 1.2)]
    assert scores[0] < scores[1] < scores[2]


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("view", list(View))
def test_sound_swings_of_many_golfers_seldom_show_a_fault(view, seed):
    _, recording = random_clip(seed, view)
    present = [f for f in analyse(recording).findings if f.status is Status.PRESENT]
    assert len(present) <= 1


@pytest.mark.parametrize(("definition", "view", "point"), NEEDED)
def test_without_a_joint_it_needs_a_fault_is_not_assessable(definition, view, point):
    _, recording = clip(view)
    result = analyse(without(recording, (point,)))
    assert result.swing_found
    found = finding(result, definition.name)
    assert found.status is Status.NOT_ASSESSABLE
    assert found.reason.code in {"points_not_seen", "not_reached", "joints_not_seen"}
    assert found.score is None
    assert found.evidence == ()


@pytest.mark.parametrize("view", View)
def test_a_view_that_cannot_show_a_fault_says_so(view):
    unseen = {name for name, definition in CATALOGUE.items() if view not in definition.views}
    assert unseen
    _, recording = clip(view)
    told = {f.fault: f for f in analyse(recording).findings}
    assert {name for name, f in told.items() if f.reason and f.reason.code == "view"} == unseen
    assert {told[name].status for name in unseen} == {Status.NOT_ASSESSABLE}


def test_without_feet_and_club_heel_shaft_and_wrist_are_left_open():
    for view in View:
        _, recording = clip(view)
        result = analyse(without(recording, FEET + CLUB))
        for fault in ("trail_heel_kick", "shaft_steep_at_top", "lead_wrist_cup"):
            assert finding(result, fault).status is Status.NOT_ASSESSABLE


def test_a_slow_rehearsal_does_not_judge_the_tempo():
    _, recording = clip(intent=Intent.REHEARSAL)
    found = finding(analyse(recording), "hurried_transition")
    assert found.status is Status.NOT_ASSESSABLE
    assert found.reason.code == "rehearsal"


def test_at_thirty_frames_a_second_the_blink_after_impact_is_not_judged():
    _, recording = clip(fps=30.0)
    found = finding(analyse(recording), "lead_wrist_cup")
    assert found.status is Status.NOT_ASSESSABLE
    assert found.reason.code == "frame_rate"
    assert "film at 60 frames a second or more" in found.reason.text


@pytest.mark.parametrize(
    ("fps", "told"), [(20.0, "frame_rate"), (30.0, Status.PRESENT), (60.0, Status.PRESENT)]
)
def test_a_shaft_that_turns_little_as_it_starts_down_is_judged_at_thirty_frames_a_second(fps, told):
    _, recording = clip(View.DOWN_THE_LINE, amounts=FaultAmounts(shaft_steep_at_top=FULL), fps=fps)
    found = finding(analyse(recording), "shaft_steep_at_top")
    assert told == (found.reason.code if found.reason else found.status)


@pytest.mark.parametrize(("frames", "rate"), [(2.0, 60), (3.0, 120), (5.0, 240), (99.0, 480)])
def test_the_rate_to_film_at_is_the_next_usual_one_that_brings_enough_frames(frames, rate):
    _, recording = clip(fps=30.0)
    more = dataclasses.replace(CATALOGUE["lead_wrist_cup"], min_frames=frames)
    told = finding_of(more, measure_swing(recording)).reason.text
    assert f"film at {rate} frames a second or more" in told


def test_a_late_start_leaves_open_what_is_told_against_address():
    swing, recording = clip(View.DOWN_THE_LINE)
    late = analyse(cut(recording, swing.position_times[2], np.inf))
    found = finding(late, "handle_rise")
    assert found.status is Status.NOT_ASSESSABLE
    assert found.reason.code == "clip_starts_late"


def test_a_clip_that_starts_late_still_names_the_frame_of_what_it_shows():
    swing, recording = clip(amounts=FaultAmounts(long_backswing=FULL, elbows_separate=FULL))
    start = swing.position_times[1]
    late = analyse(cut(recording, start, np.inf))
    found = finding(late, "long_backswing")
    assert found.status is Status.PRESENT
    assert abs(found.shows_most.time + start - swing.position_times[3]) < 0.05
    assert finding(late, "chest_stall").reason.code == "clip_starts_late"


def test_much_noise_makes_a_finding_less_sure_or_leaves_it_open():
    _, recording = clip(View.FACE_ON, amounts=FaultAmounts(handle_rise=FULL))
    rng = np.random.default_rng(0)
    noisy = dataclasses.replace(
        recording, points=recording.points + rng.normal(0, 25.0, recording.points.shape)
    )
    plain = finding(analyse(recording), "handle_rise")
    rough = finding(analyse(noisy), "handle_rise")
    assert rough.status is Status.NOT_ASSESSABLE or rough.confidence < plain.confidence


def test_a_given_view_stays_as_given_where_the_picture_contradicts_it():
    _, recording = clip(View.FACE_ON)
    told = analyse(dataclasses.replace(recording, view=View.DOWN_THE_LINE))
    assert told.view.given
    assert told.view.confidence == 1.0
    assert finding(told, "upper_body_drift").reason.code == "view_unsure"


def test_grades_lie_beyond_the_threshold_one_after_the_other():
    for definition in CATALOGUE.values():
        for criteria in definition.criteria.values():
            for c in criteria:
                assert 0.0 < c.excess(c.moderate) < c.excess(c.marked)
                assert c.grey > 0


DRIFT = CATALOGUE["upper_body_drift"]


def drift_of(value, uncertainty):
    """The finding where the upper body has drifted so far, as surely as that."""
    _, recording = clip()
    swing = measure_swing(recording)
    off = value - swing.values[DRIFT.name].value
    return finding_of(DRIFT, with_estimates(swing, {DRIFT.name: Estimate(off, uncertainty)}))


def test_the_grade_is_that_of_the_limits_passed():
    (limits,) = DRIFT.criteria[View.FACE_ON]
    for value, grade in (
        (limits.moderate - 0.01, Grade.MILD),
        (limits.moderate + 0.01, Grade.MODERATE),
        (limits.marked - 0.01, Grade.MODERATE),
        (limits.marked + 0.01, Grade.MARKED),
    ):
        assert drift_of(value, 0.1).grade is grade


@pytest.mark.parametrize(
    ("excess", "share", "code"),
    [
        (0.1, 0.19, None),
        (0.1, 0.21, "too_uncertain"),
        (3.0, 0.89, None),
        (3.0, 0.91, "too_uncertain"),
        (-3.0, 1.01, None),
    ],
    ids=["near", "near and vague", "far", "far and vague as a marked fault", "clearly not"],
)
def test_what_is_vague_against_a_marked_fault_is_left_open_unless_clearly_not_met(
    excess, share, code
):
    """Excess and uncertainty as shares of a marked fault's excess."""
    (limits,) = DRIFT.criteria[View.FACE_ON]
    marked = limits.excess(limits.marked)
    told = drift_of(limits.threshold + excess * marked, share * marked)
    assert (told.reason and told.reason.code) == code
    assert (told.status is Status.NOT_ASSESSABLE) is (code is not None)


def test_every_fault_names_its_sources_causes_and_cautions():
    names = set(CATALOGUE)
    for definition in CATALOGUE.values():
        assert definition.causes
        assert definition.cautions
        assert set(definition.brings) <= names - {definition.name}
        assert all(c.reference for cs in definition.criteria.values() for c in cs)


def test_the_evidence_on_a_cupped_wrist_speaks_of_the_grip():
    _, recording = clip(amounts=FaultAmounts(lead_wrist_cup=FULL))
    assert "grip" in finding(analyse(recording), "lead_wrist_cup").evidence[0].note


def test_losing_one_wrist_for_a_moment_does_not_lose_the_swing():
    swing, recording = clip(View.DOWN_THE_LINE)
    points = recording.points.copy()
    hidden = (recording.times > swing.position_times[3]) & (
        recording.times < swing.position_times[4]
    )
    points[hidden, Point.TRAIL_WRIST] = np.nan
    assert analyse(dataclasses.replace(recording, points=points)).swing_found


def test_the_readme_lists_every_fault_and_the_views_that_show_it():
    readme = (Path(__file__).parents[3] / "README.md").read_text(encoding="utf-8")
    rows = {line.split("|")[1].strip(): line for line in readme.splitlines() if line.count("|") > 3}
    for definition in CATALOGUE.values():
        row = rows[definition.title]
        for view in View:
            assert (view.value.replace("_", " ") in row) == (view in definition.views)
