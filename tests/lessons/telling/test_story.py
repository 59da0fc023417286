"""Cases written by hand: what a coach would put first."""

from dataclasses import dataclass, field, replace

import pytest

from service.analysis.types import Finding, Grade, Status, View
from service.lessons import Story, VideoCheck, build_story
from service.lessons.telling.story import MOST_PRIORITIES
from service.lessons.telling.texts import TEXTS
from tests.lessons.made_up import (
    DEFINITIONS,
    absent,
    judged_absent,
    others_absent,
    present,
    unseen,
)

MILD, MODERATE, MARKED = Grade.MILD, Grade.MODERATE, Grade.MARKED


@dataclass(frozen=True)
class Case:
    """Findings and what they mean: priorities by rank, chapters as cause and compensations."""

    name: str
    findings: list[Finding]
    priorities: list[str]
    chapters: dict[str, list[str]] = field(default_factory=dict)


CASES = [
    Case("nothing is wrong", others_absent(), [], {}),
    Case(
        "one fault stands alone",
        others_absent(present("long_backswing")),
        ["long_backswing"],
        {"long_backswing": []},
    ),
    Case(
        "a whole chain has one cause",
        others_absent(
            present("elbows_separate"),
            present("handle_rise"),
            present("trail_heel_kick"),
            present("shaft_steep_at_top"),
            present("arms_lift_at_top"),
        ),
        ["arms_lift_at_top"],
        {
            "arms_lift_at_top": [
                "shaft_steep_at_top",
                "trail_heel_kick",
                "handle_rise",
                "elbows_separate",
            ]
        },
    ),
    Case(
        "a mild cause comes before its marked effect, which follows",
        others_absent(present("shaft_steep_at_top", MILD), present("handle_rise", MARKED)),
        ["shaft_steep_at_top", "handle_rise"],
        {"shaft_steep_at_top": ["handle_rise"]},
    ),
    Case(
        "an effect no stronger than its cause is no priority",
        others_absent(present("shaft_steep_at_top", MARKED), present("handle_rise", MARKED)),
        ["shaft_steep_at_top"],
        {"shaft_steep_at_top": ["handle_rise"]},
    ),
    Case(
        "of two causes the marked one comes first, the story keeps the swing's order",
        others_absent(present("upper_body_drift", MILD), present("chest_stall", MARKED)),
        ["chest_stall", "upper_body_drift"],
        {"upper_body_drift": [], "chest_stall": []},
    ),
    Case(
        "a mild cause of three outweighs a marked one of none",
        others_absent(
            present("chest_stall", MARKED),
            present("shaft_steep_at_top", MILD),
            present("trail_heel_kick", MILD),
            present("trail_knee_drive", MILD),
            present("handle_rise", MILD),
        ),
        ["shaft_steep_at_top", "chest_stall"],
        {
            "shaft_steep_at_top": ["trail_heel_kick", "trail_knee_drive", "handle_rise"],
            "chest_stall": [],
        },
    ),
    Case(
        "of two equal causes the surer comes first",
        others_absent(
            present("upper_body_drift", MODERATE, 0.6), present("chest_stall", MODERATE, 0.95)
        ),
        ["chest_stall", "upper_body_drift"],
        {"upper_body_drift": [], "chest_stall": []},
    ),
    Case(
        "of two causes alike in all the earlier in the swing comes first",
        others_absent(present("chest_stall"), present("upper_body_drift")),
        ["upper_body_drift", "chest_stall"],
        {"upper_body_drift": [], "chest_stall": []},
    ),
    Case(
        "an absent fault breaks the chain into two causes",
        others_absent(present("arms_lift_at_top"), present("trail_heel_kick")),
        ["arms_lift_at_top", "trail_heel_kick"],
        {"arms_lift_at_top": [], "trail_heel_kick": []},
    ),
    Case(
        "an unseen fault leaves the chain whole",
        others_absent(
            present("arms_lift_at_top"), present("trail_heel_kick"), unseen("shaft_steep_at_top")
        ),
        ["arms_lift_at_top"],
        {"arms_lift_at_top": ["trail_heel_kick"]},
    ),
    Case(
        "three causes give two priorities",
        others_absent(
            present("upper_body_drift", MILD),
            present("arms_lift_at_top", MARKED),
            present("chest_stall", MODERATE),
        ),
        ["arms_lift_at_top", "chest_stall"],
        {"upper_body_drift": [], "arms_lift_at_top": [], "chest_stall": []},
    ),
    Case(
        "a compensation of two causes is told once, under the earlier",
        others_absent(
            present("shaft_steep_at_top"), present("chest_stall"), present("elbows_separate")
        ),
        ["chest_stall", "shaft_steep_at_top"],
        {"shaft_steep_at_top": [], "chest_stall": ["elbows_separate"]},
    ),
    Case(
        "both causes of a shared compensation are named",
        others_absent(
            present("shaft_steep_at_top"),
            present("upper_body_drift"),
            present("trail_shoulder_drop"),
        ),
        ["upper_body_drift", "shaft_steep_at_top"],
        {"upper_body_drift": ["trail_shoulder_drop"], "shaft_steep_at_top": []},
    ),
]


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_the_story_is_the_one_a_coach_would_tell(case: Case) -> None:
    story = build_story(case.findings)
    assert [p.finding.fault for p in story.priorities] == case.priorities
    told = {c.cause.fault: [x.finding.fault for x in c.compensations] for c in story.chapters}
    assert told == case.chapters
    assert list(told) == list(case.chapters)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_every_fault_found_is_told_exactly_once(case: Case) -> None:
    story = build_story(case.findings)
    told = [
        f.fault for c in story.chapters for f in (c.cause, *(x.finding for x in c.compensations))
    ]
    found = [f.fault for f in case.findings if f.status is Status.PRESENT]
    assert sorted(told) == sorted(found)
    assert len(story.priorities) <= MOST_PRIORITIES


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_the_order_of_the_findings_does_not_matter(case: Case) -> None:
    assert build_story(case.findings) == build_story(case.findings[::-1])


def test_both_causes_of_a_compensation_are_named() -> None:
    story = build_story(CASES[-1].findings)
    (shared,) = story.chapters[0].compensations
    assert set(shared.brought_by) == {"shaft_steep_at_top", "upper_body_drift"}


def test_what_could_not_be_seen_is_told_with_its_reason() -> None:
    story = build_story(others_absent(present("trail_heel_kick"), unseen("shaft_steep_at_top")))
    assert [(u.fault, u.reason.code) for u in story.unseen] == [("shaft_steep_at_top", "view")]
    (priority,) = story.priorities
    assert priority.unseen_causes == ("shaft_steep_at_top",)
    assert "from over-steep shaft at the top, which could not be judged" in priority.why


def test_a_priority_says_what_it_may_ease() -> None:
    (priority,) = build_story(
        others_absent(present("shaft_steep_at_top"), present("handle_rise"))
    ).priorities
    assert "handle rising at impact" in priority.why
    assert priority.work_on == DEFINITIONS["shaft_steep_at_top"].checkpoint
    assert priority.cautions == DEFINITIONS["shaft_steep_at_top"].cautions


def test_the_check_names_view_place_aim_and_the_value_seen() -> None:
    (priority,) = build_story(others_absent(present("shaft_steep_at_top"))).priorities
    check = priority.check
    assert check.views == (View.DOWN_THE_LINE,)
    criterion = DEFINITIONS["shaft_steep_at_top"].criteria[View.DOWN_THE_LINE][0]
    assert check.at == criterion.measure.at
    assert criterion.measure.start <= check.position <= criterion.measure.end
    assert "down the line" in check.text
    assert "below the trail shoulder" in check.text
    for part in ("shaft line above the trail shoulder 0 or less", "here", "±"):
        assert part in check.numbers


def test_what_the_film_should_show_is_told_for_every_fault_and_view() -> None:
    assert list(TEXTS) == list(DEFINITIONS)
    for name, definition in DEFINITIONS.items():
        assert set(TEXTS[name].gone) == set(definition.criteria), name


@pytest.mark.parametrize("name", DEFINITIONS)
def test_no_aim_asks_for_a_length_of_nothing(name: str) -> None:
    check = build_story([present(name)]).priorities[0].check
    assert " 0 % of body height" not in f"{check.text} {check.numbers}"
    assert " 0.00 " not in f"{check.text} {check.numbers}"
    assert not any(char.isdigit() for char in check.text)


def test_what_a_key_brings_may_ease_with_it() -> None:
    alone, bringing = (
        build_story(others_absent(present("shaft_steep_at_top"), *map(present, eased)))
        for eased in ((), ("handle_rise", "trail_heel_kick"))
    )
    assert alone.priorities[0].effect == TEXTS["shaft_steep_at_top"].effect
    told = "This may get better with it: trail heel kicking up and out and handle rising at impact."
    assert bringing.priorities[0].effect == f"{TEXTS['shaft_steep_at_top'].effect} {told}"


def test_no_cause_is_told_that_was_seen_to_be_absent() -> None:
    alone = build_story(others_absent(present("hips_past_lead_foot"))).priorities[0]
    unseen_too = build_story([present("hips_past_lead_foot")]).priorities[0]
    assert "drifted off the ball" not in alone.behind
    assert "drifted off the ball" in unseen_too.behind
    without_any = build_story(others_absent(present("handle_rise"))).priorities[0]
    assert without_any.behind == "What usually leads to it was not found here: ask your coach."


def test_a_key_that_others_bring_names_them_as_part_of_its_cause() -> None:
    story = build_story(
        others_absent(present("shaft_steep_at_top", MILD), present("handle_rise", MARKED))
    )
    assert story.priorities[1].behind.startswith("Part of it may come from over-steep shaft")


def test_what_was_just_won_is_the_first_to_keep() -> None:
    findings = others_absent(present("long_backswing"))
    usual, won = (build_story(findings, gained=g).keep for g in ((), ("wrists_open_early",)))
    assert "wrists_open_early" not in [k.fault for k in usual]
    assert won[0].fault == "wrists_open_early"


def test_nothing_that_is_there_by_one_of_its_signs_is_praised() -> None:
    rise, turn = DEFINITIONS["arms_lift_at_top"].criteria[View.FACE_ON]
    story = build_story([judged_absent("arms_lift_at_top", rise.marked, turn.threshold + 20.0)])
    assert story.keep == ()
    clear = judged_absent("arms_lift_at_top", rise.threshold - 20.0, turn.threshold + 20.0)
    assert [k.fault for k in build_story([clear]).keep] == ["arms_lift_at_top"]


def test_what_one_swing_shows_is_not_praised() -> None:
    findings = [absent("chest_stall", 0.95)]
    assert [k.fault for k in build_story(findings).keep] == ["chest_stall"]
    assert build_story(findings, found_once={"chest_stall"}).keep == ()


def test_at_most_two_things_are_kept_and_only_clear_ones() -> None:
    faint = [absent(name, 0.7) for name in DEFINITIONS]
    assert build_story(faint).keep == ()
    clear = [absent(name, 0.95 if name == "handle_rise" else 0.85) for name in DEFINITIONS]
    kept = build_story(clear).keep
    assert len(kept) == 2
    assert kept[0].text == DEFINITIONS["handle_rise"].kept


def test_of_findings_from_two_views_the_more_confident_counts() -> None:
    both = [unseen("long_backswing"), present("long_backswing"), absent("long_backswing", 0.6)]
    story = build_story(both)
    assert [p.finding.fault for p in story.priorities] == ["long_backswing"]
    assert story.unseen == ()


def _words(story: Story) -> str:
    return " ".join(
        f"{p.why} {p.description} {p.behind} {p.effect} {p.dose} {p.work_on} {p.check.text}"
        for p in story.priorities
    )


@pytest.mark.parametrize("name", DEFINITIONS)
def test_no_fault_makes_a_medical_claim(name: str) -> None:
    text = f"{_words(build_story([present(name)]))} {DEFINITIONS[name].kept}".lower()
    for claim in ("injur", "pain", "heal", "therap", "cure", "diagnos"):
        assert claim not in text


def test_a_fault_is_looked_for_again_in_the_views_that_judge_it_by_the_same_measures() -> None:
    (name, definition) = next(
        (n, d)
        for n, d in DEFINITIONS.items()
        if len({frozenset(c.measure.name for c in cs) for cs in d.criteria.values()}) > 1
    )
    found = present(name)
    by_others = replace(
        found, evidence=(replace(found.evidence[0], measure="of an older version"),)
    )
    assert _check(found).views == tuple(definition.criteria)[:1]
    assert _check(by_others).views == definition.views


def test_a_check_that_any_view_shows_names_none() -> None:
    heel = _check(present("trail_heel_kick"))
    assert heel.text == (
        "It is gone when the trail heel stays down, or just off the ground, until impact."
    )


def _check(finding: Finding) -> VideoCheck:
    (priority,) = build_story(others_absent(finding)).priorities
    return priority.check
