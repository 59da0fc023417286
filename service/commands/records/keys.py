"""``python -m service keys create``, ``list``, ``rotate PREFIX``, ``revoke PREFIX``."""

from __future__ import annotations

import argparse
import sys
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Final

from service.settings import Settings

if TYPE_CHECKING:
    from service.commands import Parsers
    from service.records import Database
    from service.records.access.keys import ApiKey, KeyScope

_SCOPES: Final[tuple[str, ...]] = ("analyse", "read", "write", "review", "batch", "admin")
"""As in :class:`~service.records.access.keys.KeyScope`, which takes long to load."""

_WHERE_TOLD: Final[str] = (
    "`python -m service keys list` tells each by its start, `python -m service academies list` "
    "the academies."
)
_DAYS: Final[int] = 365
_GRACE_HOURS: Final[float] = 24.0


def describe(commands: Parsers) -> None:
    """Add the command."""
    parser = commands.add_parser("keys", help="make, list, rotate and revoke keys to the service")
    actions = parser.add_subparsers(dest="action", required=True)
    create = actions.add_parser("create", help="make a key and print it, once and never again")
    create.add_argument("--academy", default="default", help="its name or id")
    create.add_argument(
        "--scopes",
        type=_scopes,
        required=True,
        help=f"what it is good for, separated by commas: {', '.join(_SCOPES)}; or all",
    )
    create.add_argument("--name", help="what you want to know it by")
    create.add_argument(
        "--days", type=int, default=_DAYS, help=f"days it is good for ({_DAYS}); 0 for ever"
    )
    listing = actions.add_parser("list", help="print every key but for its secret")
    listing.add_argument("--academy", help="of this one only, by name or id")
    rotate = actions.add_parser("rotate", help="make a key in place of another and print it")
    rotate.add_argument("prefix", metavar="PREFIX")
    rotate.add_argument(
        "--grace-hours",
        type=float,
        default=_GRACE_HOURS,
        help=f"hours for which the one before is still good ({_GRACE_HOURS:g})",
    )
    revoke = actions.add_parser("revoke", help="end a key")
    revoke.add_argument("prefix", metavar="PREFIX")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace, settings: Settings) -> None:
    """Run it."""
    from service.commands.records.opening import opened
    from service.records import RecordNotFound
    from service.records.errors import RecordsError

    try:
        with opened(settings, must_exist=options.action != "create") as database:
            if options.action == "list":
                _list(options, database)
            else:
                print(_changed(options, database))
    except RecordNotFound as error:
        raise RecordsError(f"{error} {_WHERE_TOLD}") from None


def _list(options: argparse.Namespace, database: Database) -> None:
    from service.records.access import academies, keys

    with database.reading() as session:
        one = options.academy and academies.find(session, options.academy).id
        names = {each.id: each.name for each in academies.fetch_all(session)}
        lines = [_line(each, names[each.academy_id]) for each in keys.fetch_all(session, one)]
    if not lines:
        none = f"there are no keys in {database.address}; python -m service keys create makes one"
        print(none, file=sys.stderr)
    for line in lines:
        print(line)


def _changed(options: argparse.Namespace, database: Database) -> str:
    """Make, replace or end a key, and say what it is or became."""
    from service.records.access import academies, keys

    with database.writing() as session:
        match options.action:
            case "create":
                academy = academies.find(session, options.academy)
                lasts = timedelta(days=options.days) if options.days > 0 else None
                scopes = _known(options.scopes)
                _, key = keys.add(session, academy.id, scopes, options.name, lasts)
            case "rotate":
                grace = timedelta(hours=options.grace_hours)
                _, key = keys.rotate(session, options.prefix, grace)
            case _:
                key = f"{keys.revoke(session, options.prefix).prefix} is revoked"
    return key


def _scopes(text: str) -> list[str]:
    """What was asked for, each of which there is."""
    wanted = list(_SCOPES) if text == "all" else [each.strip() for each in text.split(",")]
    for each in wanted:
        if each not in _SCOPES:
            raise argparse.ArgumentTypeError(
                f"{each!r} is no scope; there are {', '.join(_SCOPES)}, or all"
            )
    return wanted


def _known(scopes: list[str]) -> list[KeyScope]:
    from service.records.access.keys import KeyScope

    return [KeyScope(scope) for scope in scopes]


def _line(key: ApiKey, academy: str) -> str:
    now = datetime.now(UTC)
    until = f"until {key.expires:%Y-%m-%d %H:%M}" if key.expires else "until revoked"
    state = f"revoked {key.revoked:%Y-%m-%d %H:%M}" if key.revoked else until
    good = "good" if key.good(now) else "ended"
    scopes = ",".join(sorted(key.scopes))
    return f"{key.prefix}  {good}  {state}  {academy}  {scopes}  {key.name or ''}".rstrip()
