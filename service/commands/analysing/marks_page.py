"""``python -m service marks-page FILM``."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from service.commands.complaint import CannotBeDone
from service.film import FilmError
from service.settings import Settings

if TYPE_CHECKING:
    from service.commands import Parsers


def describe(commands: Parsers) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "marks-page", help="write a page on which the club is marked on a film by hand"
    )
    parser.add_argument("film", metavar="FILM", type=Path)
    parser.add_argument(
        "--out", metavar="FILE", type=Path, help="FILM.marks.html beside the film unless told"
    )
    parser.add_argument("--start", metavar="SECONDS", type=float, default=0.0)
    parser.add_argument("--end", metavar="SECONDS", type=float, default=float("inf"))
    parser.set_defaults(run=run)


def run(options: argparse.Namespace, settings: Settings) -> None:
    """Write the page."""
    from service.film.club.marks_page import write_marks_page

    film: Path = options.film
    page = film.with_name(f"{film.name}.marks.html") if options.out is None else options.out
    try:
        n_frames = write_marks_page(film, page, options.start, options.end)
    except FilmError as error:
        raise CannotBeDone(f"{film} {error}") from error
    except OSError as error:
        raise CannotBeDone(f"can't write {page}: {error}") from error
    print(
        f"{page}: {n_frames} frames; open it in a browser, mark, save, and give the file that it "
        "saves as --club"
    )
