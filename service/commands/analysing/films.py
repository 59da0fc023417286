"""Films for ``python -m service analyse``."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from service.commands.complaint import CannotBeDone
from service.film import FilmError
from service.languages import Language, language
from service.settings import Settings

if TYPE_CHECKING:
    from service.film.command import FilmResult


def describe(parser: argparse.ArgumentParser) -> None:
    """Add the options that are for films."""
    group = parser.add_argument_group("films", "need the extra: pip install '.[video]'")
    group.add_argument(
        "--out",
        metavar="FOLDER",
        type=Path,
        help="where keypoints and page go; beside the film unless told",
    )
    group.add_argument(
        "--club",
        metavar="MARKS",
        type=Path,
        help="the club as marked by hand: what marks-page saved, or a folder of such files",
    )
    group.add_argument(
        "--playback-speed",
        metavar="SPEED",
        type=float,
        help="0.25 for a film that plays four times slower than life and doesn't tell so",
    )
    group.add_argument(
        "--recap",
        metavar="FILE",
        type=Path,
        help="write the recap of the lesson there too; the films are of one player, in the order "
        "filmed: the first before the work, the last after it",
    )
    group.add_argument("--player", metavar="NAME", help="the player's name, for the recap")


def analyse_all(options: argparse.Namespace, settings: Settings) -> None:
    """Analyse films one after another; those that fail are told at the end."""
    from service.api.schemas.analysis import to_answer
    from service.api.schemas.translation import translated
    from service.film.command import FilmOrder, analyse_films
    from service.report.table import swing_table
    from service.use_cases.analyse import Analyser

    if options.player is not None and options.recap is None:
        raise CannotBeDone("--player is for the page of --recap")
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
                answer = translated(to_answer(result.clip.analysis, result.clip.reference), told_in)
                print(answer.model_dump_json(indent=None if several else 2))
                continue
            heading = f"{result.film}\n{'=' * len(str(result.film))}\n\n" if several else ""
            print(f"{heading}{swing_table(result.clip.analysis, told_in)}")
            print(f"Keypoints: {result.request}\nStills: {result.page}\n", flush=True)
    except FilmError as error:
        raise CannotBeDone(str(error)) from error
    failures = [result.failure for result in results if result.failure]
    if options.recap is not None:
        failures += _recap_of_films(results, options, told_in)
    if failures:
        raise CannotBeDone("\n".join(failures))


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
