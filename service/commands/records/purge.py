"""``python -m service purge``: delete what is kept for long enough."""

from __future__ import annotations

import argparse
from dataclasses import asdict
from datetime import timedelta
from typing import TYPE_CHECKING

from service.settings import Settings

if TYPE_CHECKING:
    from service.commands import Parsers


def describe(commands: Parsers) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "purge", help="delete what was kept for longer than SWING_RETENTION_DAYS and others say"
    )
    parser.add_argument("--dry-run", action="store_true", help="only count what would go")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace, settings: Settings) -> None:
    """Run it."""
    from service.commands.records.opening import opened
    from service.records.privacy.retention import Retention, purge

    retention = Retention(
        people=_days(settings.retention_days),
        audit=_days(settings.audit_days),
        retries=timedelta(hours=settings.retry_hours),
        batches=_days(settings.batch_days),
    )
    with opened(settings, must_exist=True) as database:
        purged = purge(database, retention, dry_run=options.dry_run)
    print("would be deleted:" if options.dry_run else "deleted:")
    for kind, count in asdict(purged).items():
        print(f"  {kind} {count}")
    if retention.people is None:
        print("SWING_RETENTION_DAYS is 0: players, lessons and swings are kept")


def _days(days: int) -> timedelta | None:
    return timedelta(days=days) if days else None
