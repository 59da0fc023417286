"""When a recap is a draft."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from service.lessons.coach.approval import ApprovableContent, Approval, approval_status

WHEN = datetime(2025, 5, 17, tzinfo=UTC)
TOLD = ApprovableContent({"long_backswing": "found, mild"}, ("long_backswing",), (), {}, "Turn.", 0)


def codes(now: ApprovableContent, approval: Approval | None) -> list[str]:
    return [reason.code for reason in approval_status(now, approval).why]


def test_what_nobody_approved_or_somebody_took_back_is_a_draft() -> None:
    assert codes(TOLD, None) == ["not_approved"]
    assert codes(TOLD, Approval("Bo", WHEN, None)) == ["approval_withdrawn"]


def test_what_is_as_it_was_approved_is_no_draft() -> None:
    told = approval_status(TOLD, Approval("Bo", WHEN, TOLD))
    assert (told.draft, told.why) == (False, ())


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"findings": {}}, "findings_changed"),
        ({"findings": {"long_backswing": "found, marked"}}, "findings_changed"),
        ({"keys": ()}, "keys_changed"),
        ({"keep": ("handle_rise",)}, "keys_changed"),
        ({"changes": {"long_backswing, face_on": "better"}}, "changes_changed"),
        ({"note": None}, "note_changed"),
        ({"edits": 1}, "keys_edited"),
    ],
)
def test_what_tells_something_else_by_now_is_a_draft_again_and_says_why(
    change: dict[str, object], code: str
) -> None:
    now = replace(TOLD, **change)
    assert codes(now, Approval("Bo", WHEN, TOLD)) == [code]
    assert now.fingerprint != TOLD.fingerprint


def test_a_changed_finding_is_told_as_it_was_and_as_it_is() -> None:
    now = replace(TOLD, findings={})
    (reason,) = approval_status(now, Approval("Bo", WHEN, TOLD)).why
    assert reason.text == (
        "Backswing running long: found, mild when it was approved, not found now."
    )
