"""Every sentence of a recap has something behind it: lessons of simulated and real swings."""

from __future__ import annotations

import json
import re
from datetime import date
from functools import cache

import numpy as np
import pytest

from service.analysis.faults import CATALOGUE
from service.analysis.types import Status, View
from service.languages import CODES, language
from service.lessons.swings import beyond
from service.lessons.telling.texts import TEXTS
from service.lessons.words.wording import Wording
from service.records import Role
from service.report.clip import Clip
from service.report.recap import Recap, render_html
from service.settings import Settings
from service.use_cases.analyse import Analyser
from service.use_cases.recap import recap_of
from tests.reference import clips as reference
from tests.report.parsed import Page
from tests.report.visits import visit
from training.simulator import (
    EstimatorNoise,
    FaultAmounts,
    film,
    random_camera,
    random_golfer,
    random_swing,
)

SIMULATED = range(8)
REAL = [
    pytest.param(
        -1 - number,
        marks=pytest.mark.skipif(
            not reference.available(), reason=f"the reference clips are not in {reference.FOLDER}"
        ),
    )
    for number in range(2)
]
LESSONS = [*SIMULATED, *REAL]
NAMES = [name for name in FaultAmounts.__dataclass_fields__ if name in CATALOGUE]


class _Visible(Page):
    """The list items and descriptions of the first page, without those of the second."""

    def __init__(self, html: str) -> None:
        self.told: list[str] = []
        self.first = True
        super().__init__(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        super().handle_starttag(tag, attrs)
        self.first = self.first and ("id", "words") not in attrs and ("id", "more") not in attrs

    def handle_data(self, data: str) -> None:
        super().handle_data(data)
        if data.strip() and self.first and {"li", "dd"} & set(self.open):
            self.told.append(" ".join(data.split()))


@cache
def _filmed(number: int) -> list[tuple[Role, Clip]]:
    """The swings of one lesson: simulated from 0 on, real ones from -1 down."""
    analyser = Analyser.of(Settings())
    return _simulated(number, analyser) if number >= 0 else _real(-1 - number, analyser)


@cache
def lesson(number: int, code: str = "en") -> tuple[Recap, str]:
    """One of the lessons, told in a language to a player of known or of unknown height."""
    filmed = _filmed(number)
    wording = Wording(language(code), 178.0 if number % 2 else None)
    told = visit(*((role, c.analysis) for role, c in filmed), day=date(2025, 5, 20))
    clips = {f"2025-05-20 {n}": clip for n, (_, clip) in enumerate(filmed)}
    recap = recap_of("Ada", [told], wording=wording)
    return recap, render_html(recap, clips)


def _real(number: int, analyser: Analyser) -> list[tuple[Role, Clip]]:
    """Four reference clips as if they were one player's."""
    rows = reference.read("golf_clips")[4 * number : 4 * number + 4]
    clips = [analyser.analyse_body(json.dumps(reference.request(row)).encode()) for row in rows]
    return list(zip((Role.BEFORE, Role.BEFORE, Role.AFTER, Role.AFTER), clips, strict=True))


def _simulated(seed: int, analyser: Analyser) -> list[tuple[Role, Clip]]:
    """From both views, two faults before the work and the second one after it."""
    rng = np.random.default_rng(seed)
    golfer = random_golfer(rng)
    first, second = rng.choice(NAMES, 2, replace=False)
    filmed = []
    for role, amounts in (
        (Role.BEFORE, {first: 1.5, second: 1.2}),
        (Role.AFTER, {second: 1.2}),
    ):
        for view in View:
            motion = random_swing(rng, golfer, FaultAmounts(**amounts))
            camera = random_camera(rng, view)
            recording = film(motion, camera, 120.0, noise=EstimatorNoise(), rng=rng, tell=True)
            filmed.append((role, Clip(None, recording, analyser.analyse(recording))))
    return filmed


@pytest.mark.parametrize("code", CODES)
@pytest.mark.parametrize("seed", LESSONS)
def test_no_sentence_is_told_without_a_finding_behind_it(seed: int, code: str) -> None:
    recap, page = lesson(seed, code)
    say = language(code).say
    allowed = {*recap.film_next, *(say(CATALOGUE[k.fault].kept) for k in recap.story.keep)}
    for priority in recap.story.priorities:
        texts = TEXTS[priority.finding.fault]
        definition = CATALOGUE[priority.finding.fault]
        allowed |= {
            recap.wording.explained(say(definition.description)),
            priority.behind,
            priority.effect,
            recap.wording.explained(
                f"{say(definition.checkpoint)} {say(texts.dose)}", say(definition.description)
            ),
            priority.check.text,
        }
    for kind, faults in recap.news:
        allowed |= {f"{kind}:", f"{faults}."}
    told = _Visible(page).told
    assert told
    assert set(told) <= allowed


@pytest.mark.parametrize("code", CODES[1:])
@pytest.mark.parametrize("seed", LESSONS)
def test_every_language_tells_the_same_and_nothing_in_english(seed: int, code: str) -> None:
    (english, first), (recap, page) = lesson(seed), lesson(seed, code)
    say = language(code).say
    assert [p.finding for p in recap.story.priorities] == [
        p.finding for p in english.story.priorities
    ]
    assert [k.fault for k in recap.story.keep] == [k.fault for k in english.story.keep]
    assert [say(kind) for kind, _ in english.news] == [kind for kind, _ in recap.news]
    assert len(recap.film_next) == len(english.film_next)
    same = {text for text in Page(page).texts if len(text.split()) > 2}
    same &= {text for text in Page(first).texts if len(text.split()) > 2}
    words = {text for text in same if re.search(r"[a-z]{2} [a-z]{2}", text)}
    assert {text for text in words if "{" not in text} == set()


@pytest.mark.parametrize("seed", LESSONS)
def test_what_is_to_be_worked_on_is_there_and_what_is_praised_is_not(seed: int) -> None:
    recap, _ = lesson(seed)
    final = [s for id_, s in recap.swings.items() if recap.roles[id_] == "after"]
    by_fault = {
        name: [f for s in final for f in s.findings if f.fault == name] for name in CATALOGUE
    }
    for priority in recap.story.priorities:
        assert all(beyond(priority.finding))
        assert Status.ABSENT not in {f.status for f in by_fault[priority.finding.fault]}
    for keep in recap.story.keep:
        statuses = {f.status for f in by_fault[keep.fault]}
        assert Status.ABSENT in statuses
        assert Status.PRESENT not in statuses


@pytest.mark.parametrize("seed", LESSONS)
def test_what_is_called_better_is_so_by_its_measures(seed: int) -> None:
    recap, _ = lesson(seed)
    for kind, titles in recap.news:
        for name, definition in CATALOGUE.items():
            if definition.title.lower() not in titles.lower():
                continue
            verdicts = {c.verdict.value for _, c in recap.changes.rows if c.fault == name}
            if kind.startswith("Got better"):
                assert verdicts <= {"better", "no_detectable_change"}
                assert "better" in verdicts
            if kind == "Got worse":
                assert "better" not in verdicts


def test_the_lessons_have_something_to_tell() -> None:
    recaps = [lesson(number)[0] for number in SIMULATED]
    assert sum(bool(r.story.priorities) for r in recaps) >= 6
    assert sum(bool(r.news) for r in recaps) >= 2
    assert any(kind.startswith("Got better") for r in recaps for kind, _ in r.news)
    assert all(r.story.keep for r in recaps)


def test_a_sentence_with_nothing_behind_it_is_caught() -> None:
    _, page = lesson(0)
    forged = page.replace("<li>", "<li>You are ready for the tour.</li><li>", 1)
    assert "You are ready for the tour." in _Visible(forged).told
    assert "You are ready for the tour." not in _Visible(page).told
