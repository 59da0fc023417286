"""No answer is surer than anybody has measured."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from fastapi.testclient import TestClient

from service.analysis.types import Position, Source
from service.api.schemas.analysis import PositionAnswer
from service.demo import clip_body
from tests.api.clips import ANALYZE

JSON = {"Content-Type": "application/json"}


def _confidences(value: object) -> Iterator[float | None]:
    match value:
        case dict():
            yield from (v for k, v in value.items() if k in ("confidence", "chance"))
            for each in value.values():
                yield from _confidences(each)
        case list():
            for each in value:
                yield from _confidences(each)


@pytest.mark.parametrize("view", ["face_on", "down_the_line"])
def test_no_confidence_in_an_answer_is_0_or_1(view: str, client: TestClient) -> None:
    answer = client.post(ANALYZE, content=clip_body(view), headers=JSON).json()
    told = [value for value in _confidences(answer) if value is not None]
    assert len(told) > 10
    assert 0.01 <= min(told) <= max(told) <= 0.99


@pytest.mark.parametrize(("domain", "told"), [(1.0, 0.99), (1e-9, 0.01), (0.5, 0.5), (0.0, None)])
def test_the_confidence_of_a_position_keeps_off_the_ends(domain: float, told: float | None) -> None:
    source = Source.OBSERVED if domain else Source.NOT_FOUND
    position = Position(4, source, confidence=domain)
    assert PositionAnswer.model_validate(position).confidence == told
