"""Requests bent out of shape are answered or refused in words."""

from __future__ import annotations

import pytest

from service.settings import Settings
from service.use_cases.analyse import Analyser
from tests.attack.fuzz.corpus import bodies
from tests.attack.fuzz.mutations import case
from tests.attack.fuzz.outcomes import FOUND, outcome
from tests.intake.test_formats import CASES

FEW = 60


@pytest.fixture(scope="module")
def analyser() -> Analyser:
    return Analyser.of(Settings(database_url=""))


def test_every_format_is_fuzzed() -> None:
    assert set(CASES) <= set(bodies())


def test_what_fuzzing_starts_from_is_a_swing(analyser: Analyser) -> None:

    for name, body in bodies().items():
        assert outcome(analyser, body, False) == "a swing", name


def test_a_case_is_the_same_each_time() -> None:
    corpus = bodies()
    assert [case(corpus, 5, n) for n in range(6)] == [case(corpus, 5, n) for n in range(6)]


def test_bent_requests_are_answered_or_refused(analyser: Analyser) -> None:
    corpus = bodies()
    outcomes = {outcome(analyser, *case(corpus, 2, n)) for n in range(FEW)}
    assert outcomes >= {"a swing", "no swing", "InvalidRequest", "MalformedJson"}


@pytest.mark.parametrize("name", sorted(f.name for f in FOUND.glob("*.*")))
def test_what_once_failed_fails_no_more(analyser: Analyser, name: str) -> None:
    outcome(analyser, (FOUND / name).read_bytes(), name.endswith(".gz"))
