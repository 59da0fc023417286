"""What the commands on archives have in common."""

from __future__ import annotations

import argparse
import json
import os
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from importlib.util import find_spec
from typing import TYPE_CHECKING, Any, Final

from service.commands.complaint import CannotBeDone

if TYPE_CHECKING:
    from service.use_cases.archive.tag import Progress

_EXTRA: Final = ("pyarrow", "distributed", "tqdm")


def add_work(parser: argparse.ArgumentParser) -> None:
    """Add how the work is spread."""
    parser.add_argument(
        "--workers",
        type=count,
        default=len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else 1,
        metavar="N",
        help="worker processes on this machine (one a core); with 1 all is done in this process",
    )
    parser.add_argument(
        "--scheduler",
        metavar="ADDRESS",
        help="a running Dask scheduler in their place, as tcp://host:8786; its workers need this "
        "version, the same models, and the same folders under the same names",
    )


def add_assumed(parser: argparse.ArgumentParser) -> None:
    """Add what is assumed of swings that don't tell."""
    parser.add_argument(
        "--assume",
        action="append",
        default=[],
        type=_assumed,
        metavar="FIELD=VALUE",
        help="for swings that lack this field of a request, as fps=240 or view=face_on; may be "
        "given several times",
    )


@contextmanager
def told_as_command() -> Iterator[None]:
    """What goes wrong with an archive, as a command tells it.

    Raises
    ------
    CannotBeDone
        In words for whoever gave the command.
    KeyboardInterrupt
        With what that means for the work.
    """
    missing = [name for name in _EXTRA if find_spec(name) is None]
    if missing:
        raise CannotBeDone(
            f"needs {', '.join(missing)}: pip install 'swing-fault-service[archive]'"
        )
    from pyarrow import ArrowException

    from service.archive.errors import ArchiveError

    try:
        yield
        sys.stdout.flush()
    except BrokenPipeError:  # whoever reads along has seen enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        raise SystemExit(0) from None
    except OSError as error:
        place = f"{error.filename} can't be used: " if error.filename else ""
        raise CannotBeDone(f"{place}{error.strerror or error}") from error
    except (ArchiveError, ArrowException) as error:
        raise CannotBeDone(str(error)) from error
    except KeyboardInterrupt:
        raise KeyboardInterrupt(
            "interrupted. What is done is kept: run the command again, and it goes on"
        ) from None


@contextmanager
def bar() -> Iterator[Progress]:
    """A bar on standard error with what is done, the rate and the time left."""
    from tqdm import tqdm

    drawn: list[Any] = []

    def progress(left: int, more: int) -> None:
        if not drawn and left:
            drawn.append(tqdm(total=left, unit="swing", smoothing=0.1, file=sys.stderr))
        for each in drawn:
            each.total = left
            each.update(more)

    try:
        yield progress
    finally:
        for each in drawn:
            each.close()


def told_changes(changes: Mapping[str, int]) -> str:
    """How many files were added, changed and gone, in words."""
    told = [f"{count:,} {what}" for what, count in changes.items() if count]
    return f"files {', '.join(told)}"


def count(text: str) -> int:
    """A number of 1 or more, given on the command line."""
    number = int(text)
    if number < 1:
        raise argparse.ArgumentTypeError("give 1 or more")
    return number


def _assumed(text: str) -> tuple[str, Any]:
    from service.analysis.spelling import did_you_mean
    from service.intake.errors import InvalidRequest
    from service.intake.many.assumed import ASSUMED, assumed_of

    name, is_given, value = text.partition("=")
    if not is_given or name not in ASSUMED:
        meant = did_you_mean(name, ASSUMED) or "."
        raise argparse.ArgumentTypeError(
            f"{text!r} is no FIELD=VALUE{meant} Fields are {', '.join(ASSUMED)}"
        )
    try:
        given = json.loads(value)
    except ValueError:
        given = value
    try:
        return name, assumed_of({name: given})[name]
    except InvalidRequest as error:
        wrong = error.errors[0]
        end = "" if wrong.problem.endswith("?") else "."
        raise argparse.ArgumentTypeError(
            f"{wrong.pointer.strip('/')} {wrong.problem}{end} {wrong.fix}"
        ) from None
