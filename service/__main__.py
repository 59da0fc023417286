"""The command line: ``python -m service``."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from typing import Any, Final

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from service import commands
from service.commands.complaint import CannotBeDone
from service.settings import Settings

_BAD_INPUT: Final[int] = 2
_PIPE_CLOSED: Final[int] = 141
"""128 and the number of SIGPIPE, as other commands exit."""
_INTERRUPTED: Final[int] = 130
"""Likewise of SIGINT."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; its exit status is 0, or 2 when what it was given is no good."""
    parser = _parser()
    options, unknown = parser.parse_known_args(arguments)
    if unknown:
        parser.error(_told_unknown(unknown, options))
    try:
        settings = Settings(**_told_here(options))
    except ValidationError as error:
        return _complain(f"bad settings: {_told(error)}")
    try:
        options.run(options, settings)
    except Exception as error:
        told = _in_words(error, options.command, settings)
        if told is None:
            raise
        return _complain(told)
    return 0


def _in_words(error: Exception, command: str, settings: Settings) -> str | None:
    """What stopped a command, if it is for whoever gave it to mend.

    The rooms of these errors are large: they are read once something went wrong.
    """
    if isinstance(error, CannotBeDone):
        return str(error)
    from service.analysis import ManifestError
    from service.records import RecordsError

    match error:
        case ManifestError():
            return f"can't use the models in {settings.model_dir}: {error}"
        case RecordsError():
            return f"{command}: {error}"
        case OSError() if error.filename:
            return f"{command}: {error.filename} can't be used: {error.strerror}"
    return None


def _told_here(options: argparse.Namespace) -> dict[str, Any]:
    """Settings given on the command line, which go before those of the environment."""
    told = {name: getattr(options, name, None) for name in ("host", "port")}
    return {name: value for name, value in told.items() if value is not None}


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python -m service", description="Find the faults of a golf swing from pose keypoints."
    )
    known = parser.add_subparsers(dest="command", required=True)
    commands.describe(known)
    for command in known.choices.values():
        command.set_defaults(known=[*command._option_string_actions])
    return parser


def _told_unknown(unknown: Sequence[str], options: argparse.Namespace) -> str:
    """What a command does not take, and what was meant where a name was misspelt."""
    from service.analysis.spelling import did_you_mean  # takes time that only this case needs

    names = [name.partition("=")[0] for name in unknown if name.startswith("--")]
    known = [name for name in options.known if name.startswith("--")]
    meant = next(filter(None, (did_you_mean(name, known) for name in names)), "")
    return f"{options.command} does not take {' '.join(unknown)}{meant}"


def _told(error: ValidationError) -> str:
    return "\n".join(map(_told_of_one, error.errors(include_url=False, include_input=False)))


def _told_of_one(wrong: ErrorDetails) -> str:
    from service.intake.parsing.json_reader import plain_words

    name = str(wrong["loc"][0])  # in a list of values the place follows
    problem = plain_words(wrong["type"], wrong["msg"], wrong.get("ctx", {}))
    return f"SWING_{name.upper()} {problem}; it is: {Settings.model_fields[name].description}"


def _complain(message: str) -> int:
    print(message, file=sys.stderr)
    return _BAD_INPUT


def _run() -> int:
    try:
        status = main()
        sys.stdout.flush()
    except BrokenPipeError:
        # Whoever read the output has heard enough, as `head` has; Python's own last flush must
        # not complain of it either.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return _PIPE_CLOSED
    except KeyboardInterrupt as interrupt:
        print(*(interrupt.args or ("interrupted",)), file=sys.stderr)
        return _INTERRUPTED
    return status


if __name__ == "__main__":
    sys.exit(_run())
