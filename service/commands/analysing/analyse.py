"""``python -m service analyse REQUEST``, ``... FILM ...``."""

from __future__ import annotations

import argparse
import gzip
import json
import sys
import zlib
from pathlib import Path
from typing import TYPE_CHECKING, Final

from service.commands.analysing import films
from service.commands.complaint import CannotBeDone
from service.film import is_film
from service.intake.many.files import GZIP_MAGIC
from service.languages import CODES, Language, language
from service.settings import Settings

if TYPE_CHECKING:
    from service.commands import Parsers
    from service.intake.errors import InvalidRequest

_OF_FILMS: Final = ("out", "club", "playback_speed", "recap", "player")


def describe(commands: Parsers) -> None:
    """Add the command."""
    parser = commands.add_parser("analyse", help="analyse a request, a film or a folder of films")
    parser.add_argument(
        "files",
        metavar="FILE",
        nargs="+",
        help="request as JSON, may be gzipped; - for stdin; or films, or folders of films",
    )
    parser.add_argument(
        "--json", action="store_true", help="print the answer as JSON, one line a film of several"
    )
    parser.add_argument(
        "--lang", choices=CODES, help="language of all that is told; SWING_LANGUAGE unless told"
    )
    films.describe(parser)
    parser.set_defaults(run=run)


def run(options: argparse.Namespace, settings: Settings) -> None:
    """Analyse one request, or films."""
    requests = [f for f in options.files if not (is_film(Path(f)) or Path(f).is_dir())]
    if not requests:
        films.analyse_all(options, settings)
        return
    file = requests[0]
    for name in _OF_FILMS:
        if getattr(options, name) is not None:
            raise CannotBeDone(f"--{name.replace('_', '-')} is for films, and {file} is a request")
    if len(options.files) > 1:
        raise CannotBeDone(f"{file} is a request: give it alone; only films can be several")
    told_in = language(options.lang or settings.language)
    _analyse_request(file, options.json, settings, told_in)


def _analyse_request(file: str, as_json: bool, settings: Settings, told_in: Language) -> None:
    from service.api.schemas.analysis import to_answer
    from service.api.schemas.translation import translated
    from service.intake.errors import InvalidRequest, MalformedJson
    from service.report.table import swing_table
    from service.use_cases.analyse import Analyser

    try:
        body = _read(file)
        clip = Analyser.of(settings).analyse_body(body)
    except (OSError, EOFError, zlib.error) as error:
        why = getattr(error, "strerror", None) or error
        raise CannotBeDone(f"can't read {file}: {why}") from error
    except MalformedJson as error:
        raise CannotBeDone(f"{file} is not JSON: {error}{_where_many_go(body)}") from error
    except InvalidRequest as error:
        raise CannotBeDone(f"{file} breaks the contract:\n{_listed(error)}") from error
    if as_json:
        answer = translated(to_answer(clip.analysis, clip.reference), told_in)
        print(answer.model_dump_json(indent=2))
    else:
        print(swing_table(clip.analysis, told_in), end="")


def _where_many_go(body: bytes) -> str:
    """Where a file belongs whose first line alone is JSON; nothing of any other."""
    first, _, rest = body.partition(b"\n")
    try:
        json.loads(first)
    except (ValueError, RecursionError):
        return ""
    return "; several swings, one a line, are for python -m service tag" if rest.strip() else ""


def _read(file: str) -> bytes:
    """The bytes of a file or of standard input, decompressed when they are gzip."""
    data = sys.stdin.buffer.read() if file == "-" else Path(file).read_bytes()
    return gzip.decompress(data) if data.startswith(GZIP_MAGIC) else data


def _listed(error: InvalidRequest) -> str:
    lines = [f"  {e.pointer or '/'} {e.problem}\n    {e.fix}" for e in error.errors]
    if error.omitted:
        lines.append(f"  and {error.omitted} more")
    return "\n".join(lines)
