"""Whether a recap is a draft: until a coach approves it, and again once it tells otherwise."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Collection, Iterator, Mapping
from dataclasses import asdict, dataclass, field
from datetime import datetime
from typing import Final

from service.analysis.faults import title_of
from service.analysis.types import Reason


@dataclass(frozen=True)
class ApprovableContent:
    """What a recap tells, as far as an approval holds for it.

    Attributes
    ----------
    findings
        The faults found, each with what is said of it.
    keys, keep
        What to work on and what to keep, by name, in order.
    changes
        What became of faults: by view, in a rehearsal and since earlier visits.
    note
        The coach's words to the player.
    edits
        Version of the edits, 0 without any.
    """

    findings: Mapping[str, str] = field(default_factory=dict)
    keys: tuple[str, ...] = ()
    keep: tuple[str, ...] = ()
    changes: Mapping[str, str] = field(default_factory=dict)
    note: str | None = None
    edits: int = 0

    @property
    def fingerprint(self) -> str:
        """A short text that differs where anything told does."""
        text = json.dumps(asdict(self), sort_keys=True)
        return hashlib.sha256(text.encode()).hexdigest()[:32]


@dataclass(frozen=True)
class Approval:
    """A recap approved: by whom, when, and what it told; ``told`` is ``None`` once withdrawn."""

    reviewer: str
    created: datetime
    told: ApprovableContent | None


@dataclass(frozen=True)
class ApprovalStatus:
    """Whether a recap is a draft.

    ``why`` has at least one reason exactly when it is. ``approval`` is the last one, be it still
    good or not. ``told`` is what the recap tells now.
    """

    why: tuple[Reason, ...]
    approval: Approval | None
    told: ApprovableContent

    @property
    def draft(self) -> bool:
        """Whether no approval holds for it."""
        return bool(self.why)


def approval_status(
    now: ApprovableContent, approval: Approval | None, not_found: Collection[str] = ()
) -> ApprovalStatus:
    """Hold what a recap tells against what was approved.

    ``not_found`` are faults that the coach made keys and that are no longer found: a draft tells
    of them, an approval was given without.
    """
    if approval is None:
        why: tuple[Reason, ...] = (_NOT_APPROVED,)
    elif approval.told is None:
        why = (_WITHDRAWN,)
    else:
        why = tuple(_differences(approval.told, now))
    if why:
        why = (*why, *map(_key_not_found, not_found))
    return ApprovalStatus(why, approval, now)


def _differences(was: ApprovableContent, now: ApprovableContent) -> Iterator[Reason]:
    for name in dict.fromkeys((*was.findings, *now.findings)):
        before, after = (told.findings.get(name, _NOT_FOUND) for told in (was, now))
        if before != after:
            title = title_of(name)
            text = f"{title}: {before} when it was approved, {after} now."
            yield Reason("findings_changed", text)
    if was.edits != now.edits:
        yield _EDITED
    if was.note != now.note:
        yield _NOTE_CHANGED
    if was.changes != now.changes:
        yield _CHANGES_CHANGED
    if (was.keys, was.keep) != (now.keys, now.keep):
        yield _KEYS_CHANGED


def _key_not_found(fault: str) -> Reason:
    title = title_of(fault)
    return Reason("key_not_found", f"{title}: the coach's key is left out, as it is not found now.")


_NOT_FOUND: Final[str] = "not found"
_NOT_APPROVED: Final = Reason("not_approved", "No coach has approved it yet.")
_WITHDRAWN: Final = Reason("approval_withdrawn", "The approval was withdrawn.")
_EDITED: Final = Reason("keys_edited", "Keys were edited after it was approved.")
_NOTE_CHANGED: Final = Reason("note_changed", "The coach's note was changed after it was approved.")
_CHANGES_CHANGED: Final = Reason(
    "changes_changed", "What changed is told otherwise than when it was approved."
)
_KEYS_CHANGED: Final = Reason(
    "keys_changed", "What to work on or to keep is not what it was when it was approved."
)
