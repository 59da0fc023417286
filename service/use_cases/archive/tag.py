"""An archive of swings in, tables of what was found out; as often interrupted as you like."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import islice
from pathlib import Path
from typing import Any, Final, TypeVar

import service
from service.analysis.types import SwingAnalysis
from service.archive.engine import run_here, run_on_dask
from service.archive.errors import ArchiveError, NoSuchColumn, OtherMaker
from service.archive.listing import Piece
from service.archive.plan import (
    PARTITION,
    Plan,
    alone_in,
    drop_plan,
    make_plan,
    open_plan,
    refuse_changes,
    same_plan,
)
from service.archive.reading import Reading
from service.archive.results import PLAN, done, sweep, write_part
from service.archive.rows import Kept, Rows
from service.intake.many.files import is_utf8
from service.intake.many.reading import Reader, ReadSwing, Refused
from service.records.access.sessions import Behalf
from service.settings import Settings
from service.use_cases.analyse import Analyser
from service.use_cases.archive.columns import refuse_unknown_column
from service.use_cases.archive.keep import Keeping, keep_chunk

CHUNK: Final[int] = 64
"""Swings read and analysed together; more would only take more memory."""

T = TypeVar("T")


@dataclass(frozen=True)
class TagArchive:
    """An archive to be tagged.

    Attributes
    ----------
    assumed
        Fields of the request for swings that lack them, such as ``fps``.
    partition
        Swings in a partition.
    workers
        Processes, no more than there are partitions; with 1 and no scheduler the work is done in
        this one.
    scheduler
        Address of a running Dask scheduler.
    keep_by
        What tells the player, where the swings are to be kept in the service's records: the name
        of a carried column, or ``client_reference``.
    behalf
        The academy whose records they become.
    as_in
        Earlier results of the same archive, whose partitions are taken over.
    """

    archive: Path
    out: Path
    assumed: Mapping[str, Any]
    partition: int = PARTITION
    workers: int = 1
    scheduler: str | None = None
    keep_by: str | None = None
    behalf: Behalf = field(default_factory=Behalf)
    as_in: Path | None = None


@dataclass(frozen=True)
class Job:
    """One partition, with all that a worker must know."""

    number: int
    pieces: tuple[Piece, ...]
    reading: Reading
    out: Path
    settings: Settings
    model: str | None
    keeping: Keeping | None


Progress = Callable[[int, int], None]
"""Told how many inputs there are in all and how many more are done."""


def tag_archive(wanted: TagArchive, settings: Settings, progress: Progress) -> Plan:
    """Tag an archive into a folder, or go on where an earlier run was interrupted.

    Raises
    ------
    ArchiveError
        As :mod:`service.archive.errors` lists; what was done before stays.
    ManifestError
        As :meth:`service.use_cases.analyse.Analyser.of`.
    """
    model = _analyser(settings.model_dump_json()).model_version
    options = {
        "service": service.__version__,
        "model": model,
        "assumed": dict(wanted.assumed),
        "keep_by": wanted.keep_by,
        "academy": wanted.behalf.academy_id if wanted.keep_by else None,
        "max_frames": settings.max_frames,
        "min_frames": settings.min_frames,
    }
    with alone_in(wanted.out):
        plan = open_or_make_plan(wanted, options)
        sweep(wanted.out)
        reading = reading_of(wanted, settings)
        if wanted.keep_by and not done(wanted.out):
            _refuse_unknown_column(plan, reading, wanted)
        # A password has no business on a scheduler that keeps nothing.
        bare = settings.model_copy(update={"database_url": ""})
        keeping = wanted.keep_by and Keeping(
            by=wanted.keep_by,
            database_url=settings.database_url,
            behalf=wanted.behalf,
            plan=plan.header.digest,
            since_ms=plan.header.created_ms,
        )

        def jobs(numbers: Sequence[int]) -> Iterator[Job]:
            for number in numbers:
                pieces = plan.pieces(number)
                yield Job(number, pieces, reading, wanted.out, bare, model, keeping or None)

        work_through(plan, done(wanted.out), tag_partition, jobs, wanted, progress)
    return plan


def _refuse_unknown_column(plan: Plan, reading: Reading, wanted: TagArchive) -> None:
    try:
        refuse_unknown_column(plan, reading, wanted.keep_by or "")
    except NoSuchColumn:
        drop_plan(wanted.out / PLAN)
        raise


def work_through(
    plan: Plan,
    finished: set[int],
    work: Callable[[Job], int],
    jobs: Callable[[Sequence[int]], Iterable[Job]],
    wanted: TagArchive,
    progress: Progress,
) -> None:
    """Do every partition that is not done, and tell how far it is."""
    open_ones = [n for n in range(plan.header.partitions) if n not in finished]
    left = sum(piece.count for number in open_ones for piece in plan.pieces(number))
    progress(left, 0)
    if not open_ones:
        return
    workers = min(wanted.workers, len(open_ones))
    if workers == 1 and wanted.scheduler is None:
        counts = run_here(work, jobs(open_ones))
    else:
        counts = run_on_dask(work, jobs(open_ones), workers, wanted.scheduler)
    for count in counts:
        progress(left, count)


def open_or_make_plan(wanted: TagArchive, options: Mapping[str, Any]) -> Plan:
    """The plan in a folder of results, made where there is none.

    Raises
    ------
    ChangedArchive, OtherMaker, EmptyArchive, NotWritten, ArchiveError
    """
    archive, out = wanted.archive, wanted.out
    if not archive.is_dir():
        raise ArchiveError(f"{archive} is no folder")
    for folder in (archive, out):
        if not is_utf8(str(folder)):
            raise ArchiveError(f"{str(folder)!r} has a name that is no UTF-8: give it another")
    if out.resolve().is_relative_to(archive.resolve()):
        raise ArchiveError(f"{out} lies in the archive, and would be read as part of it")
    plan = open_plan(out / PLAN)
    if plan is None:
        if wanted.as_in is None:
            return make_plan(archive, out / PLAN, wanted.partition, options)
        plan = same_plan(wanted.as_in / PLAN, out / PLAN, options)
    others = [n for n, value in options.items() if plan.header.options.get(n) != value]
    if others:
        told = "; ".join(
            f"{n} was {plan.header.options.get(n)!r}, not {options[n]!r}" for n in others
        )
        raise OtherMaker(
            f"the results in {out} were begun otherwise: {told}. Tag into another folder, or go on "
            "as it was begun."
        )
    refuse_changes(archive, out / PLAN, plan)
    return plan


def reading_of(wanted: TagArchive, settings: Settings) -> Reading:
    """How the archive is read."""
    analyser = _analyser(settings.model_dump_json())
    reader = Reader(
        analyser.limits,
        settings.max_body_bytes,
        wanted.assumed,
        with_bodies=wanted.keep_by is not None,
    )
    return Reading(wanted.archive.resolve(), reader)


def tag_partition(job: Job) -> int:
    """Read, analyse and write one partition, in whichever process; how many inputs it had.

    Raises
    ------
    OtherMaker
        When this process has another version or model than the one that planned the work.
    """
    analyser = _analyser(job.settings.model_dump_json())
    if analyser.model_version != job.model:
        raise OtherMaker(
            f"a worker has the model {analyser.model_version}, not {job.model}: give every machine "
            "the same version and SWING_MODEL_DIR"
        )
    rows = Rows()
    swings = (each for piece in job.pieces for each in job.reading.swings(piece))
    for chunk in _chunks(swings):
        _tag_chunk(chunk, analyser, rows, job.keeping)
    write_part(job.out, job.number, rows.tables())
    return sum(piece.count for piece in job.pieces)


def _tag_chunk(
    chunk: Sequence[ReadSwing | Refused], analyser: Analyser, rows: Rows, keeping: Keeping | None
) -> None:
    read = [each for each in chunk if isinstance(each, ReadSwing)]
    analyses = analyser.analyse_each([swing.recording for swing in read])
    kept = keep_chunk(keeping, read, analyses) if keeping else [Kept()] * len(read)
    found = iter(zip(analyses, kept, strict=True))
    for each in chunk:
        if isinstance(each, Refused):
            rows.add_refused(each)
            continue
        analysis, how_kept = next(found)
        if isinstance(analysis, SwingAnalysis):
            rows.add(each, analysis, how_kept)
        else:
            rows.add_refused(Refused(each.origin, analysis, each.reference))


def _chunks(swings: Iterable[T]) -> Iterator[list[T]]:
    these = iter(swings)
    while chunk := list(islice(these, CHUNK)):
        yield chunk


@lru_cache(maxsize=2)
def _analyser(settings: str) -> Analyser:
    """Made once a process."""
    return Analyser.of(Settings.model_validate_json(settings))
