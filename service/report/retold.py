"""What another analysis says otherwise, as text for a terminal."""

from __future__ import annotations

from service.lessons.changes.retold import Changes


def changes_table(changes: Changes) -> str:
    """How many findings stayed the same, and of each fault what changed, with examples."""
    lines = [
        f"{changes.swings:,} swings, {changes.findings:,} findings: {changes.same:,} as before, "
        f"{changes.findings - changes.same:,} changed"
    ]
    fault = None
    for change in changes:
        if change.fault != fault:
            fault = change.fault
            lines += ["", change.title]
        words = f"{change.before} to {change.after}".replace("_", " ")
        lines.append(f"  {change.count:,} from {words}, as in {', '.join(change.examples)}")
    return "\n".join(lines) + "\n"
