"""What a coach makes of the keys."""

from __future__ import annotations

from service.lessons import build_story
from service.lessons.coach.edits import KeyEdit, KeyWords, OwnKey, RecapEdits
from tests.lessons.made_up import absent, others_absent, present

FIRST, SECOND, THIRD = "lead_wrist_cup", "upper_body_drift", "long_backswing"
# Nothing unseen may stand between them, so that none brings another.
FOUND = others_absent(present(FIRST), present(SECOND), present(THIRD))
WORDS = KeyWords(work_on="Turn your back to the target.")
OWN = OwnKey("Grip", 1, None, WORDS)


def keys(*edits: KeyEdit | OwnKey) -> list[str]:
    """Names of the keys told, own ones by their titles."""
    story = build_story(FOUND, edits=RecapEdits(edits))
    return [k.key.title if hasattr(k, "key") else k.finding.fault for k in story.keys]


def of(fault: str, words: KeyWords = KeyWords(), *, hidden: bool = False) -> KeyEdit:  # noqa: B008
    return KeyEdit(fault, hidden, words)


def test_keys_come_in_the_coach_s_order_and_the_service_s_after_them() -> None:
    by_service = keys()
    assert len(by_service) == 2
    assert keys(of(by_service[1])) == by_service[::-1]
    assert keys(of(THIRD)) == [THIRD, *[k for k in by_service if k != THIRD][:1]]
    assert keys(of(THIRD), of(SECOND), of(FIRST)) == [THIRD, SECOND, FIRST]


def test_a_hidden_key_makes_room_for_the_next() -> None:
    first, second = keys()
    (rest,) = {FIRST, SECOND, THIRD} - {first, second}
    assert keys(of(first, hidden=True)) == [second, rest]
    story = build_story(FOUND, edits=RecapEdits((of(first, hidden=True),)))
    assert story.hidden == (first,)
    assert [c.cause.fault for c in story.chapters].count(first) <= 1, "found all the same"


def test_a_key_of_the_coach_s_own_stands_in_its_place() -> None:
    first, second = keys()
    assert keys(OWN) == ["Grip", first]
    assert keys(of(second), OWN, of(first)) == [second, "Grip", first]
    story = build_story(FOUND, edits=RecapEdits((of(second), OWN)))
    assert [(k.place, k.key.title) for k in story.own_keys] == [(2, "Grip")]


def test_a_fault_that_is_not_found_is_no_key_though_the_coach_names_it() -> None:
    story = build_story([absent(FIRST), present(SECOND)], edits=RecapEdits((of(FIRST),)))
    assert [p.finding.fault for p in story.priorities] == [SECOND]


def test_words_of_the_coach_take_the_place_of_the_service_s_and_the_rest_stays() -> None:
    plain = next(p for p in build_story(FOUND).priorities if p.finding.fault == keys()[0])
    words = KeyWords(work_on="Turn.", check="At P4 your back faces the target.")
    edits = RecapEdits((of(plain.finding.fault, words),))
    key = build_story(FOUND, edits=edits).priorities[0]
    assert (key.work_on, key.check.text) == ("Turn.", "At P4 your back faces the target.")
    assert (key.description, key.effect) == (plain.description, plain.effect)
    assert key.dose == "", "the service's is for what it asks for itself"
    assert key.check.position == plain.check.position
    assert set(key.reworded) == {"work_on", "check"}
    assert key.finding == plain.finding
