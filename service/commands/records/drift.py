"""``python -m service drift``: kept swings of some days against those the model was made from."""

from __future__ import annotations

import argparse
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Final

from service.settings import Settings

if TYPE_CHECKING:
    from service.analysis.types import View
    from service.commands import Parsers
    from service.use_cases.drift import SeenInView

_DAYS: Final[int] = 30
_MOST: Final[int] = 2000
_FEW_PLAYERS: Final[int] = 5
"""Players below which a drift may well be their own way of swinging."""


def describe(commands: Parsers) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "drift", help="whether the swings of some days are like those the model was made from"
    )
    parser.add_argument(
        "--days", type=int, default=_DAYS, help=f"how far back to look, {_DAYS} unless told"
    )
    parser.add_argument(
        "--most",
        type=int,
        default=_MOST,
        help=f"swings to look at at most, {_MOST} unless told; of more, each so many-th",
    )
    parser.set_defaults(run=run)


def run(options: argparse.Namespace, settings: Settings) -> None:
    """Run it.

    Raises
    ------
    RecordsError
        When there is no database, or no model to hold swings against.
    """
    from service.analysis.judging.classifier import Classifier
    from service.analysis.judging.manifest import ModelError
    from service.commands.records.opening import opened
    from service.records import RecordsError
    from service.use_cases.drift import drift_of, kept_since

    try:
        classifier = Classifier.load(settings.model_dir)
    except ModelError as error:
        raise RecordsError(f"there is no model to hold swings against: {error}") from None
    since = datetime.now(UTC) - timedelta(days=options.days)
    with opened(settings, must_exist=True) as database:
        found = drift_of(kept_since(database, since, max(options.most, 1)), classifier)
    if not found:
        print(f"no swing came in and was kept in the last {options.days} days")
    for view, seen in found.items():
        print("\n".join(_told(view, seen)))


def _told(view: View, seen: SeenInView) -> list[str]:
    from service.observing.drift import CHANGED, FEWEST

    many, days = seen.swings.total(), len(seen.swings)
    lines = [
        f"{view.value}: {many} swings of {len(seen.players)} players on {days} days, "
        f"{seen.unlike.total() / many:.0%} unlike those of training"
    ]
    if len(seen.players) < _FEW_PLAYERS:
        lines.append(f"  of fewer than {_FEW_PLAYERS} players: their own way looks like drift")
    lines += [
        f"  {day}  {count:5d} swings, {seen.unlike[day] / count:4.0%} unlike"
        for day, count in sorted(seen.swings.items())
    ]
    if not seen.worst:
        return [*lines, f"  the index is told of {FEWEST:.0f} swings and more"]
    lines.append("  population stability index of the furthest feature of each group:")
    for worst in sorted(seen.worst, key=lambda each: -each.index):
        changed = "  changed" if worst.index >= CHANGED else ""
        lines.append(
            f"  {worst.index:6.2f}  {worst.feature}, below the usual range in {worst.below:.0%}, "
            f"above it in {worst.above:.0%}{changed}"
        )
    return lines
