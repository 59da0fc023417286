"""Every language says everything, and says it as its place does."""

from __future__ import annotations

import ast
import json
from datetime import date
from pathlib import Path
from string import Formatter

import pytest
from babel.messages import Catalog

import service
from service.analysis.faults import CATALOGUE
from service.analysis.types import Evidence, Reason
from service.languages import CODES, ENGLISH, best_accepted, language
from service.lessons.words.reasons import figured
from service.lessons.words.wording import PLACES, Wording
from tests.languages.english import catalog_of, english_texts, missing

OTHERS = CODES[1:]
GERMAN = language("de")
ANSWERS = Path(service.__file__).parents[1] / "openapi" / "examples"


@pytest.mark.parametrize("code", OTHERS)
def test_no_text_is_missing(code: str) -> None:
    lacking = missing(catalog_of(code))
    entries = "\n\n".join(text.entry for text in lacking)
    assert not lacking, f"{code}.po lacks {', '.join(t.key for t in lacking)}:\n\n{entries}"


@pytest.mark.parametrize("code", OTHERS)
def test_no_text_is_there_that_nobody_says(code: str) -> None:
    said = {(text.english, text.context) for text in english_texts()}
    kept = {(message.id, message.context) for message in catalog_of(code) if message.id}
    assert kept - said == set()


@pytest.mark.parametrize("code", OTHERS)
def test_a_translation_has_the_parts_of_the_english(code: str) -> None:
    catalog = catalog_of(code)
    for text in english_texts():
        if text.context is None:
            wanted = _parts(text.english if isinstance(text.english, str) else text.english[0])
            for told in text.translated(catalog):
                assert _parts(told) == wanted, text.key


def _parts(text: str) -> set[str]:
    return {name for _, name, _, _ in Formatter().parse(text) if name is not None}


def test_a_text_that_is_missing_is_named_by_its_field() -> None:
    keys = {text.key for text in missing(Catalog(locale="de"))}
    for name in CATALOGUE:
        assert {f"{name}.title", f"{name}.checkpoint", f"{name}.effect"} <= keys
    assert {"reason view", "remark plays_slow", "fix plays_slow"} <= keys
    assert any(key.startswith("report/templates/recap.html") for key in keys)


def test_no_text_hides_in_an_f_string_where_it_would_not_be_gathered() -> None:
    for path in Path(service.__file__).parent.rglob("*.py"):
        strings = [n for n in ast.walk(ast.parse(path.read_text("utf-8"))) if _is_f_string(n)]
        for call in (n for string in strings for n in ast.walk(string)):
            if isinstance(call, ast.Call) and _name(call.func) in ("say", "sayable", "many"):
                assert not isinstance(call.args[0], ast.Constant), f"{path}:{call.lineno}"


def _is_f_string(node: ast.AST) -> bool:
    return isinstance(node, ast.JoinedStr)


def _name(called: ast.expr) -> str:
    return called.attr if isinstance(called, ast.Attribute) else getattr(called, "id", "")


def test_what_has_no_translation_is_said_in_english() -> None:
    assert GERMAN.say("A sentence of another version.") == "A sentence of another version."
    reason = Reason("code_of_another_version", "Why it is so.")
    assert Wording(GERMAN).reason(reason) == "Why it is so."


@pytest.mark.parametrize(
    ("code", "english", "german"),
    [
        (
            "too_uncertain",
            "After: Tempo ratio: 2.61 ± 0.34 times is too uncertain to judge.",
            "Nachher: Tempoverhältnis: 2,6 ± 0,3 zu 1 ist zu ungenau, um danach zu urteilen.",
        ),
        (
            "too_uncertain",
            "Rehearsal: Tempo ratio: 2.61 ± 0.34 times is too uncertain to judge.",
            "Probe: Tempoverhältnis: 2,6 ± 0,3 zu 1 ist zu ungenau, um danach zu urteilen.",
        ),
        (
            "too_uncertain",
            "Tempo ratio: 2.61 ± 0.44 times is too uncertain to judge, as the fault begins at 2.2 "
            "times; it takes less than ± 0.32 times.",
            "Tempoverhältnis: 2,6 ± 0,4 zu 1 ist zu ungenau, um danach zu urteilen, denn der "
            "Fehler beginnt bei 2,2 zu 1; es braucht weniger als ± 0,3 zu 1.",
        ),
        (
            "too_uncertain",
            "Tempo ratio: 2.61 ± 0.34 times is too uncertain to judge; it takes less than ± 0.2 "
            "times.",
            "Tempoverhältnis: 2,6 ± 0,3 zu 1 ist zu ungenau, um danach zu urteilen; es braucht "
            "weniger als ± 0,2 zu 1.",
        ),
        (
            "frame_rate",
            "Only one frame falls between P4.75 and P5; film at 120 frames a second or more.",
            "Zwischen P4,75 und P5 liegt nur ein Bild; filme mit 120 Bildern in der Sekunde oder "
            "mehr.",
        ),
        (
            "view",
            "This can only be seen down the line; the clip is face on.",
            "Das ist nur von hinten zu sehen; der Film ist von vorn.",
        ),
        (
            "points_not_seen",
            "Not seen well enough for this: lead ear, clubhead.",
            "Dafür nicht gut genug zu sehen: vorderes Ohr, Schlägerkopf.",
        ),
        (
            "clip_stops_early",
            "Tempo ratio needs P7, which was not found. The clip stops before this position.",
            "Tempoverhältnis: Dafür braucht es P7, das nicht gefunden wurde. "
            "Der Film endet, bevor der Schwung zu Ende ist.",
        ),
        ("no_downswing", "The hands never fall.", "Im Film ist kein Abschwung."),
    ],
)
def test_a_reason_has_its_figures_in_any_language(code: str, english: str, german: str) -> None:
    assert Wording(GERMAN).reason(Reason(code, english)) == german


def test_the_reasons_that_answers_give_are_of_the_forms_that_are_known() -> None:
    reasons = [
        r for f in ANSWERS.glob("*-answer.json") for r in _reasons(json.loads(f.read_text()))
    ]
    with_figures = [r for r in reasons if r.code in ("too_uncertain", "points_not_seen", "view")]
    assert len(with_figures) > 10
    assert [r for r in with_figures if figured(r) is None] == []


def _reasons(told: object) -> list[Reason]:
    """Every reason anywhere in an answer."""
    if isinstance(told, list):
        return [reason for each in told for reason in _reasons(each)]
    if not isinstance(told, dict):
        return []
    own = told.get("reason")
    here = [Reason(own["code"], own["text"])] if isinstance(own, dict) else []
    return [*here, *(r for value in told.values() for r in _reasons(value))]


def test_dates_numbers_and_lists_are_those_of_the_place() -> None:
    day = date(2025, 3, 5)
    assert (ENGLISH.long_date(day), GERMAN.long_date(day)) == ("5 March 2025", "5. März 2025")
    assert (ENGLISH.short_date(day), GERMAN.short_date(day)) == ("5 Mar 25", "5. März 25")
    assert (ENGLISH.number(-2.84, 1), GERMAN.number(-2.84, 1)) == ("−2.8", "−2,8")
    assert (ENGLISH.number(-0.04, 1), GERMAN.number(1234.0, 0)) == ("0.0", "1234")
    assert GERMAN.listed(["a", "b", "c"]) == "a, b und c"
    assert GERMAN.listed(["a", "b"], either=True) == "a oder b"


def test_plurals_follow_the_language() -> None:
    one, more = (
        "{count} smaller group is only in the total",
        "{count} smaller groups are only in the total",
    )
    told = [GERMAN.many(one, more, number) for number in (1, 2)]
    assert "Gruppe steckt" in told[0]
    assert "Gruppen stecken" in told[1]


def test_a_title_in_a_sentence_loses_its_capital_unless_that_is_a_german_nouns() -> None:
    title = CATALOGUE["handle_rise"].title
    assert ENGLISH.in_sentence(title) == "handle rising at impact"
    assert GERMAN.in_sentence(title) == "Steigen des Griffs im Treffmoment"
    assert GERMAN.in_sentence(CATALOGUE["long_backswing"].title) == "zu langer Rückschwung"
    told = {GERMAN.in_sentence(d.title).split()[0] for d in CATALOGUE.values()}
    assert {word for word in told if word.islower()} == {"zu", "hastiger", "unten", "frühes"}


@pytest.mark.parametrize("code", CODES)
def test_every_place_and_aim_is_told_without_a_part_left_open(code: str) -> None:
    wording = Wording(language(code), 175.0)
    for number in PLACES:
        for past in (0.0, 0.3, 0.8):
            assert f"P{number}" in wording.place(number) or past
            assert "{" not in wording.place(min(number + past, 10.0))
    for direction in ("above", "below"):
        for threshold in (0.0, 4.0):
            evidence = Evidence("m", "M", "% of body height", 5.0, 1.0, threshold, direction, "")
            assert "{" not in wording.aim(evidence)


@pytest.mark.parametrize(
    ("header", "chosen"),
    [
        ("de", "de"),
        ("de-CH,de;q=0.9,en;q=0.8", "de"),
        ("en;q=0.2, de;q=0.7", "de"),
        ("fr, en-US;q=0.5, de;q=0.4", "en"),
        ("fr", None),
        ("*", None),
        ("de;q=0", None),
        ("", None),
        (";;q=,de;q=x, ,", None),
    ],
)
def test_the_best_of_what_a_browser_accepts_is_chosen(header: str, chosen: str | None) -> None:
    assert best_accepted(header) == chosen
