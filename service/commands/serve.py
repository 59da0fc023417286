"""``python -m service serve``."""

from __future__ import annotations

import argparse
from contextlib import nullcontext
from typing import TYPE_CHECKING

from service.commands.complaint import CannotBeDone
from service.settings import Settings

if TYPE_CHECKING:
    from service.commands import Parsers


def describe(commands: Parsers) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "serve", help="serve over HTTP; settings come from SWING_... variables"
    )
    parser.add_argument("--host", help="address to listen on, in place of SWING_HOST")
    parser.add_argument("--port", type=int, help="port to listen on, in place of SWING_PORT")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace, settings: Settings) -> None:
    """Serve until told to stop."""
    from service.observing.shared import counting_together

    with counting_together() if settings.metrics else nullcontext():
        _serve_now(settings)


def _serve_now(settings: Settings) -> None:
    from service.api.access.door import NobodyCouldEnter
    from service.observing.traces import TracesUnavailable
    from service.records import RecordsError
    from service.report.branding import UnusableLogo
    from service.serving import serve

    try:
        serve(settings)
    except RecordsError as error:
        raise CannotBeDone(f"can't use the database: {error}") from error
    except UnusableLogo as error:
        raise CannotBeDone(f"bad settings: SWING_ACADEMY_LOGO: {error}") from error
    except (NobodyCouldEnter, TracesUnavailable) as error:
        raise CannotBeDone(str(error)) from error
