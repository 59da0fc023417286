"""A share of the requests that ``python -m tests.contract.fuzz`` draws, the same every time."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.contract.fuzz import fuzz
from tests.contract.hooks import FRAMEWORK_WORDS
from tests.contract.serving import serving_with_key

BACKGROUND = "^/v1/batches"
"""What goes on by itself meanwhile is left to the whole: ``python -m tests.contract.fuzz``."""


def test_no_drawn_request_gets_an_answer_that_the_contract_does_not_tell(tmp_path: Path) -> None:
    with serving_with_key(tmp_path) as (server, key):
        options = ("--phases", "examples,fuzzing,stateful", "--exclude-path-regex", BACKGROUND)
        run = fuzz(server, key, tmp_path, 3, *options)
    assert run.passed, run.text
    assert run.cases > 100


@pytest.mark.parametrize(
    "sentence",
    [
        "Input should be a valid dictionary or instance of SwingRequest",
        "Value error, unconverted data remains",
        "psycopg.OperationalError: connection refused",
        "should match pattern '^a$'",
    ],
)
def test_words_of_a_framework_are_noticed(sentence: str) -> None:
    assert FRAMEWORK_WORDS.search(sentence)


def test_plain_words_are_let_through() -> None:
    assert not FRAMEWORK_WORDS.search("should be a number; send one from 1 to 10, or leave it out.")
