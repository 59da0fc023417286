"""Which scope an operation needs."""

from __future__ import annotations

import pytest

from service.api.access.scopes import scope_of
from service.commands import keys as command
from service.records.access.keys import KeyScope


@pytest.mark.parametrize(
    ("method", "path", "scope"),
    [
        ("GET", "/v1/faults", None),
        ("POST", "/v1/swings/analyze", KeyScope.ANALYSE),
        ("GET", "/v1/swings/{swing_id}/findings/{fault}/review", KeyScope.READ),
        ("PUT", "/v1/swings/{swing_id}/findings/{fault}/review", KeyScope.REVIEW),
        ("POST", "/v1/lessons/{lesson_id}/recap/approval", KeyScope.REVIEW),
        ("DELETE", "/v1/lessons/{lesson_id}", KeyScope.WRITE),
        ("POST", "/v1/lessons/{lesson_id}/swings/batch", KeyScope.BATCH),
        ("GET", "/v1/audit", KeyScope.ADMIN),
        ("GET", "/v1/whatever_comes", KeyScope.ADMIN),
        ("GET", "/v1/playersomething", KeyScope.ADMIN),
        ("GET", "/metrics", KeyScope.ADMIN),
    ],
)
def test_each_operation_needs_its_scope_and_what_is_not_listed_the_highest(
    method: str, path: str, scope: KeyScope | None
) -> None:
    assert scope_of(method, path) is scope


def test_the_command_knows_every_scope() -> None:
    assert tuple(KeyScope) == command._SCOPES
