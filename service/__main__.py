"""The command line: ``python -m service``."""

from __future__ import annotations

import argparse
import gzip
import os
import sys
import zlib
from collections.abc import Sequence
from contextlib import nullcontext
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from service import commands as running
from service.film import FilmError, is_film
from service.intake.errors import InvalidRequest, MalformedJson
from service.intake.json_reader import plain_words
from service.languages import CODES, Language, language
from service.settings import Settings, described

if TYPE_CHECKING:
    from service.film.command import FilmResult

_BAD_INPUT: Final[int] = 2
_PIPE_CLOSED: Final[int] = 141
"""128 and the number of SIGPIPE, as other commands exit."""
_INTERRUPTED: Final[int] = 130
"""Likewise of SIGINT."""
_GZIP_MAGIC: Final[bytes] = b"\x1f\x8b"


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; its exit status is 0, or 2 when what it was given is no good."""
    options = _parser().parse_args(arguments)
    try:
        settings = Settings(**_told_here(options))
    except ValidationError as error:
        return _complain(f"bad settings: {_told(error)}")
    from service.analysis import ManifestError

    try:
        return _command(options, settings)
    except ManifestError as error:
        return _complain(f"can't use the models in {settings.model_dir}: {error}")


def _command(options: argparse.Namespace, settings: Settings) -> int:
    match options.command:
        case "serve":
            return _serve(settings)
        case "analyse":
            return _analyse(options, settings)
        case "marks-page":
            return _marks_page(options.film, options.out, options.start, options.end)
        case "migrate":
            return _migrate(settings)
        case "examples":
            return _examples(options.out)
        case "settings":
            return _settings(settings)
        case "openapi":
            return _openapi(options.write, settings)
        case command if running.knows(command):
            return _run_the_service(options, settings)
        case _:
            return _demo(options.out, settings)


def _told_here(options: argparse.Namespace) -> dict[str, Any]:
    """Settings given on the command line, which go before those of the environment."""
    told = {name: getattr(options, name, None) for name in ("host", "port")}
    return {name: value for name, value in told.items() if value is not None}


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python -m service", description="Find the faults of a golf swing from pose keypoints."
    )
    commands = parser.add_subparsers(dest="command", required=True)
    serve = commands.add_parser(
        "serve", help="serve over HTTP; settings come from SWING_... variables"
    )
    serve.add_argument("--host", help="address to listen on, in place of SWING_HOST")
    serve.add_argument("--port", type=int, help="port to listen on, in place of SWING_PORT")
    commands.add_parser("migrate", help="bring the database to the tables of this version")
    analyse = commands.add_parser("analyse", help="analyse a request, a film or a folder of films")
    analyse.add_argument(
        "files",
        metavar="FILE",
        nargs="+",
        help="request as JSON, may be gzipped; - for stdin; or films, or folders of films",
    )
    analyse.add_argument(
        "--json", action="store_true", help="print the answer as JSON, one line a film of several"
    )
    films = analyse.add_argument_group("films", "need the extra: pip install '.[video]'")
    films.add_argument(
        "--out",
        metavar="FOLDER",
        type=Path,
        help="where keypoints and page go; beside the film unless told",
    )
    films.add_argument(
        "--club",
        metavar="MARKS",
        type=Path,
        help="the club as marked by hand: what marks-page saved, or a folder of such files",
    )
    films.add_argument(
        "--playback-speed",
        metavar="SPEED",
        type=float,
        help="0.25 for a film that plays four times slower than life and doesn't tell so",
    )
    films.add_argument(
        "--recap",
        metavar="FILE",
        type=Path,
        help="write the recap of the lesson there too; the films are of one player, in the order "
        "filmed: the first before the work, the last after it",
    )
    films.add_argument("--player", metavar="NAME", help="the player's name, for the recap")
    analyse.add_argument(
        "--lang", choices=CODES, help="language of all that is told; SWING_LANGUAGE unless told"
    )
    marks = commands.add_parser(
        "marks-page", help="write a page on which the club is marked on a film by hand"
    )
    marks.add_argument("film", metavar="FILM", type=Path)
    marks.add_argument(
        "--out", metavar="FILE", type=Path, help="FILM.marks.html beside the film unless told"
    )
    marks.add_argument("--start", metavar="SECONDS", type=float, default=0.0)
    marks.add_argument("--end", metavar="SECONDS", type=float, default=float("inf"))
    commands.add_parser("settings", help="print every setting, its value and where that is from")
    examples = commands.add_parser("examples", help="write example requests of every fault")
    examples.add_argument("--out", metavar="FOLDER", type=Path, default=Path("examples"))
    openapi = commands.add_parser("openapi", help="print the OpenAPI contract")
    openapi.add_argument(
        "--write",
        metavar="FOLDER",
        type=Path,
        help="write it there instead, with an answer for every request in FOLDER/examples",
    )
    demo = commands.add_parser("demo", help="analyse a made-up swing and draw it")
    demo.add_argument("--out", metavar="FOLDER", type=Path, default=Path("out"))
    running.describe(commands)
    return parser


def _run_the_service(options: argparse.Namespace, settings: Settings) -> int:
    from service.records import RecordsError

    try:
        running.run(options, settings)
    except RecordsError as error:
        return _complain(f"{options.command}: {error}")
    return 0


def _serve(settings: Settings) -> int:
    from service.observing.shared import counting_together

    with counting_together() if settings.metrics else nullcontext():
        return _serve_now(settings)


def _serve_now(settings: Settings) -> int:
    from service.api.access.door import NobodyCouldEnter
    from service.observing.traces import TracesUnavailable
    from service.records import RecordsError
    from service.serving import serve

    try:
        serve(settings)
    except RecordsError as error:
        return _complain(f"can't use the database: {error}")
    except (NobodyCouldEnter, TracesUnavailable) as error:
        return _complain(str(error))
    return 0


def _migrate(settings: Settings) -> int:
    from service.records import Database, RecordsError, upgrade

    if not settings.database_url:
        return _complain("SWING_DATABASE_URL is empty: there is no database to migrate")
    try:
        database = Database(settings.database_url)
        try:
            upgrade(database)
        finally:
            database.close()
    except RecordsError as error:
        return _complain(f"can't migrate the database: {error}")
    return 0


def _analyse(options: argparse.Namespace, settings: Settings) -> int:
    requests = [f for f in options.files if not (is_film(Path(f)) or Path(f).is_dir())]
    if not requests:
        return _analyse_films(options, settings)
    file = requests[0]
    for name in ("out", "club", "playback_speed", "recap", "player"):
        if getattr(options, name) is not None:
            return _complain(f"--{name.replace('_', '-')} is for films, and {file} is a request")
    if len(options.files) > 1:
        return _complain(f"{file} is a request: give it alone; only films can be several")
    told_in = language(options.lang or settings.language)
    return _analyse_request(file, options.json, settings, told_in)


def _analyse_films(options: argparse.Namespace, settings: Settings) -> int:
    from service.api.schemas.analysis import to_answer
    from service.api.schemas.told import told
    from service.film.command import FilmOrder, analyse_films
    from service.report.table import swing_table
    from service.use_cases.analyse import Analyser

    if options.player is not None and options.recap is None:
        return _complain("--player is for the page of --recap")
    paths, results = [Path(file) for file in options.files], []
    several = len(paths) > 1 or paths[0].is_dir()
    told_in = language(options.lang or settings.language)
    order = FilmOrder(paths, options.out, options.club, options.playback_speed, told_in)
    try:
        for result in analyse_films(order, Analyser.of(settings)):
            results.append(result)
            if result.clip is None:
                continue
            if options.json:
                answer = told(to_answer(result.clip.analysis, result.clip.reference), told_in)
                print(answer.model_dump_json(indent=None if several else 2))
                continue
            heading = f"{result.film}\n{'=' * len(str(result.film))}\n\n" if several else ""
            print(f"{heading}{swing_table(result.clip.analysis, told_in)}")
            print(f"Keypoints: {result.request}\nStills: {result.page}\n", flush=True)
    except FilmError as error:
        return _complain(str(error))
    failures = [result.failure for result in results if result.failure]
    if options.recap is not None:
        failures += _recap_of_films(results, options, told_in)
    return _complain("\n".join(failures)) if failures else 0


def _recap_of_films(
    results: Sequence[FilmResult], options: argparse.Namespace, told_in: Language
) -> list[str]:
    """Write the lesson's page; what went wrong in words."""
    from service.film.lesson import lesson_page

    for result in results:
        found = None if result.clip is None else result.clip.analysis
        if found is not None and not found.swing_found and found.reason is not None:
            left_out = f"{result.film} is left out of the recap: {found.reason.text}"
            print(left_out, file=sys.stderr)
    films = [(result.film, result.clip) for result in results]
    try:
        page = lesson_page(films, options.player or "", date.today(), told_in)
        options.recap.parent.mkdir(parents=True, exist_ok=True)
        options.recap.write_text(page, encoding="utf-8")
    except FilmError as error:
        return [f"can't make the recap: {error}"]
    except OSError as error:
        return [f"can't write {options.recap}: {error.strerror}"]
    if not options.json:
        print(f"Recap: {options.recap}")
    return []


def _marks_page(film: Path, out: Path | None, start: float, end: float) -> int:
    from service.film.marks_page import write_marks_page

    page = film.with_name(f"{film.name}.marks.html") if out is None else out
    try:
        n_frames = write_marks_page(film, page, start, end)
    except FilmError as error:
        return _complain(f"{film} {error}")
    except OSError as error:
        return _complain(f"can't write {page}: {error}")
    print(f"{page}: {n_frames} frames; open it in a browser, mark, save, and give it as --club")
    return 0


def _analyse_request(file: str, as_json: bool, settings: Settings, told_in: Language) -> int:
    from service.api.schemas.analysis import to_answer
    from service.api.schemas.told import told
    from service.report.table import swing_table
    from service.use_cases.analyse import Analyser

    try:
        body = _read(file)
        clip = Analyser.of(settings).analyse_body(body)
    except (OSError, EOFError, zlib.error) as error:
        return _complain(f"can't read {file}: {getattr(error, 'strerror', None) or error}")
    except MalformedJson as error:
        return _complain(f"{file} is not JSON: {error}")
    except InvalidRequest as error:
        return _complain(f"{file} breaks the contract:\n{_listed(error)}")
    if as_json:
        answer = told(to_answer(clip.analysis, clip.reference), told_in)
        print(answer.model_dump_json(indent=2))
    else:
        print(swing_table(clip.analysis, told_in), end="")
    return 0


def _examples(out: Path) -> int:
    from service.api.schemas.examples import to_expected
    from service.examples import EXAMPLES

    out.mkdir(parents=True, exist_ok=True)
    for example in EXAMPLES.values():
        path = out / f"{example.name}-request.json"
        path.write_bytes(example.request())
        expected = to_expected(example).model_dump_json(indent=2)
        (out / f"{example.name}-expected.json").write_text(f"{expected}\n", encoding="utf-8")
        print(path)
    return 0


def _settings(settings: Settings) -> int:
    print(described(settings), end="")
    return 0


def _openapi(folder: Path | None, settings: Settings) -> int:
    from service.contract import contract_text, write_contract
    from service.use_cases.analyse import Analyser

    if folder is None:
        print(contract_text(), end="")
        return 0
    for path in write_contract(folder, Analyser.of(settings)):
        print(path)
    return 0


def _demo(out: Path, settings: Settings) -> int:
    from service.demo import run
    from service.use_cases.analyse import Analyser

    return run(out, Analyser.of(settings))


def _read(file: str) -> bytes:
    """The bytes of a file or of standard input, decompressed when they are gzip."""
    data = sys.stdin.buffer.read() if file == "-" else Path(file).read_bytes()
    return gzip.decompress(data) if data.startswith(_GZIP_MAGIC) else data


def _listed(error: InvalidRequest) -> str:
    lines = [f"  {e.pointer or '/'} {e.problem}\n    {e.fix}" for e in error.errors]
    if error.omitted:
        lines.append(f"  and {error.omitted} more")
    return "\n".join(lines)


def _told(error: ValidationError) -> str:
    return "\n".join(map(_told_of_one, error.errors(include_url=False, include_input=False)))


def _told_of_one(wrong: ErrorDetails) -> str:
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
    except KeyboardInterrupt:
        print("interrupted", file=sys.stderr)
        return _INTERRUPTED
    return status


if __name__ == "__main__":
    sys.exit(_run())
