"""The film door of the command line: one film or a folder of them, analysed and shown."""

from __future__ import annotations

import gzip
import sys
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from service.film import FilmError, is_film, marks_name
from service.film.club.club_marks import ClubMarks, read_marks
from service.film.container import Film, Frame
from service.film.keypoints import FilmTold, ReadFilm, read_film
from service.film.page import film_page
from service.film.pose_model import PoseModel, pose_model
from service.intake.errors import InvalidRequest, MalformedJson
from service.intake.recording import read_clip
from service.languages import ENGLISH, Language
from service.report.clip import Clip
from service.use_cases.analyse import Analyser


@dataclass(frozen=True)
class FilmOrder:
    """What to analyse and where to put what comes of it.

    Attributes
    ----------
    paths
        Films, and folders whose films are meant.
    out
        Folder for the request file and the page; beside each film unless told.
    club
        A file of marks; or a folder of them, each named as the film with .marks.json after it.
    playback_speed
        As in a request; what the metadata say unless told.
    language
        What the page is told in.
    """

    paths: Sequence[Path]
    out: Path | None = None
    club: Path | None = None
    playback_speed: float | None = None
    language: Language = ENGLISH


@dataclass(frozen=True)
class FilmResult:
    """One film's answer and the files written, or why there is none."""

    film: Path
    clip: Clip | None = None
    request: Path | None = None
    page: Path | None = None
    failure: str = ""


def films_of(path: Path) -> list[Path]:
    """The film itself, or the films of a folder in the order of their names.

    Raises
    ------
    FilmError
        When the folder holds none; the message names it.
    """
    if not path.is_dir():
        return [path]
    films = sorted(each for each in path.iterdir() if each.is_file() and is_film(each))
    if not films:
        raise FilmError(f"{path} holds no film; requests in it are for python -m service tag")
    return films


def analyse_films(order: FilmOrder, analyser: Analyser) -> Iterator[FilmResult]:
    """Analyse films one after the other; one that fails does not stop the rest.

    Raises
    ------
    FilmError
        When a folder holds no film, or two films would write the same files.
    """
    films = [film for path in order.paths for film in films_of(path)]
    _check_apart(films, order.out)
    for path in films:
        try:
            if not path.is_file():
                raise FilmError("is not there: check the path and its spelling")
            # A model of its own a film: it follows one player from frame to frame.
            with pose_model() as model:
                yield _analysed(path, order, model, analyser)
        except (FilmError, OSError) as error:
            yield FilmResult(path, failure=f"{path} {_in_words(error)}")
        except InvalidRequest as error:
            yield FilmResult(path, failure=f"{path} can't be analysed: {_fixes(error)}")


def _check_apart(films: Sequence[Path], out: Path | None) -> None:
    """Refuse films of which one's files would be written over another's."""
    names = Counter(film.name if out is not None else str(film.resolve()) for film in films)
    twice = [name for name, n in names.items() if n > 1]
    if twice:
        raise FilmError(f"{twice[0]} is given twice: give each film once, under a name of its own")


def _analysed(path: Path, order: FilmOrder, model: PoseModel, analyser: Analyser) -> FilmResult:
    told = FilmTold(order.playback_speed, _marks(path, order))
    read = read_film(path, told, model, analyser.limits.max_frames, _bar)
    clip = _clip(read, analyser)
    out = path.parent if order.out is None else order.out
    out.mkdir(parents=True, exist_ok=True)
    request, page = out / f"{path.name}.request.json.gz", out / f"{path.name}.html"
    request.write_bytes(gzip.compress(read.body, mtime=0))
    page.write_text(film_page(read.film, clip, order.language), encoding="utf-8")
    return FilmResult(path, clip, request, page)


def _clip(read: ReadFilm, analyser: Analyser) -> Clip:
    recording, reference = read_clip(read.body, analyser.limits)
    recording = replace(recording, remarks=(*read.remarks, *recording.remarks))
    return Clip(reference, recording, analyser.analyse(recording))


def _marks(path: Path, order: FilmOrder) -> ClubMarks | None:
    file = order.club
    if file is not None and file.is_dir():
        file = file / marks_name(path)
        if not file.exists():
            return None
    if file is None:
        return None
    try:
        return read_marks(file.read_bytes())
    except OSError as error:
        raise FilmError(f"has no marks: can't read {file}: {error.strerror}") from None
    except MalformedJson as error:
        raise FilmError(f"has no marks: {file} is not JSON: {error}") from None
    except InvalidRequest as error:
        raise FilmError(f"has no marks: {file} can't be used: {_fixes(error)}") from None


def _bar(frames: Iterable[Frame], film: Film) -> Iterable[Frame]:
    """A progress bar on standard error where that is a terminal."""
    try:
        from tqdm import tqdm
    except ImportError:
        raise FilmError("needs the extra: pip install '.[video]'") from None
    total = round(film.length * film.rate) or None
    return tqdm(
        frames, film.path.name, total, unit=" frames", disable=not sys.stderr.isatty(), leave=False
    )


def _in_words(error: Exception) -> str:
    if isinstance(error, OSError):
        return f"could not be finished: {error.filename or ''}: {error.strerror or error}"
    return str(error)


def _fixes(error: InvalidRequest) -> str:
    """What is wrong with fields, each with its fix."""
    return " ".join(f"{each.pointer} {each.problem}. {each.fix}" for each in error.errors)
