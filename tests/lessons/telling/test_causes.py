from dataclasses import replace

import pytest

from service.analysis.faults import CATALOGUE
from service.lessons import GRAPH, CausalGraph
from service.lessons.telling.causes import SPEAKS_OF, likely_causes
from tests.lessons.made_up import DEFINITIONS


def test_causes_come_before_what_they_bring() -> None:
    place = {name: k for k, name in enumerate(GRAPH.order)}
    assert len(place) == len(CATALOGUE)
    assert all(place[link.cause] < place[link.effect] for link in GRAPH.links)


def test_links_are_those_of_the_catalogue() -> None:
    assert {(link.cause, link.effect) for link in GRAPH.links} == {
        (d.name, effect) for d in CATALOGUE.values() for effect in d.brings
    }


def test_faults_that_bring_themselves_are_refused() -> None:
    round_trip = [
        replace(DEFINITIONS["handle_rise"], brings=("elbows_separate",)),
        replace(DEFINITIONS["elbows_separate"], brings=("handle_rise",)),
    ]
    with pytest.raises(ValueError, match="bring themselves"):
        CausalGraph(round_trip)


def test_an_unknown_effect_is_refused() -> None:
    with pytest.raises(ValueError, match="no_such_fault"):
        CausalGraph([replace(DEFINITIONS["handle_rise"], brings=("no_such_fault",))])


def test_a_fault_seen_to_be_absent_breaks_a_chain_and_an_unseen_one_does_not() -> None:
    found = {"arms_lift_at_top", "trail_heel_kick"}
    assert GRAPH.next_found("arms_lift_at_top", found, unseen=()) == frozenset()
    assert GRAPH.next_found("arms_lift_at_top", found, unseen={"shaft_steep_at_top"}) == {
        "trail_heel_kick"
    }


def test_causes_speak_of_faults_that_the_graph_has_before_them() -> None:
    told = {cause for d in CATALOGUE.values() for cause in d.causes}
    assert set(SPEAKS_OF) <= told
    for name, definition in CATALOGUE.items():
        for cause in definition.causes:
            for other in frozenset[str]().union(*SPEAKS_OF.get(cause, ())):
                assert _leads_to(other, name), (other, name)


def _leads_to(cause: str, effect: str) -> bool:
    return effect in GRAPH.next_found(cause, {effect}, unseen=set(CATALOGUE) - {effect})


def test_a_cause_goes_when_all_that_it_may_speak_of_is_absent() -> None:
    told = likely_causes("trunk_straightens", {"shaft_steep_at_top"})
    assert len(told) == 2
    both = likely_causes("trunk_straightens", {"shaft_steep_at_top", "wrists_open_early"})
    assert both == ("The pelvis moves toward the ball and pushes the trunk up.",)


def test_every_fault_says_what_a_swing_without_it_does_well() -> None:
    kept = [d.kept for d in CATALOGUE.values()]
    assert all(text.endswith(".") for text in kept)
    assert len(set(kept)) == len(kept)
