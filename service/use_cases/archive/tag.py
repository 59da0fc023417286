"""An archive of swings in, tables of what was found out; as often interrupted as you like."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache, partial
from itertools import islice
from pathlib import Path
from typing import Any, Final, TypeVar

import pyarrow as pa

import service
from service.analysis.types import SwingAnalysis
from service.archive.engine import run_here, run_on_dask
from service.archive.errors import ArchiveError, BegunOtherwise, NoSuchColumn, NotSeen
from service.archive.files.fingerprints import SEEN, Seen
from service.archive.files.listing import Piece
from service.archive.files.reading import Input, Reading
from service.archive.planning.looking import Wanted
from service.archive.planning.plan import PARTITION, PLAN, How, Plan, drop_plan, is_worked_on
from service.archive.planning.writing import alone_in
from service.archive.results import MARK, cut_part, write_part
from service.archive.rows import Kept, Rows
from service.archive.schemas import RESULTS
from service.archive.states import Another, begun, bring_up_to_date, finish, open_partitions
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
        Plan of earlier results of the archive, whose partitions are taken over.
    """

    archive: Path
    out: Path
    assumed: Mapping[str, Any]
    partition: int = PARTITION
    workers: int = 1
    scheduler: str | None = None
    keep_by: str | None = None
    behalf: Behalf = field(default_factory=Behalf)
    as_in: Plan | None = None


@dataclass(frozen=True)
class Job:
    """One partition, with all that a worker must know.

    Attributes
    ----------
    plan
        Name of the plan's tables.
    out, aside
        Where the results are, and where a partition is written.
    """

    number: int
    how: How
    pieces: tuple[Piece, ...]
    reading: Reading
    plan: str
    out: Path
    aside: Path
    settings: Settings
    model: str | None = None
    keeping: Keeping | None = None

    @property
    def planned(self) -> int:
        """How many lines, rows and files it has."""
        return sum(piece.count for piece in self.pieces)

    def write(self, tables: Mapping[str, pa.Table]) -> None:
        """Write the partition.

        Raises
        ------
        NotSeen, NotWritten
        """
        self._refuse_what_is_not_seen()
        write_part(self.aside, self.number, tables)

    def cut(self, tables: Sequence[str]) -> None:
        """Write the partition from what is in place of it, with the mark as the last table.

        Raises
        ------
        NotSeen, Damaged, NotWritten
        """
        self._refuse_what_is_not_seen()
        cut_part(self.out, self.aside, self.number, self.pieces, tables)

    def _refuse_what_is_not_seen(self) -> None:
        """Another machine may have other folders, and the command may be gone by now.

        Looked at last, or an archive that goes meanwhile would be written as one of broken files.
        """
        if not self.reading.archive.is_dir():
            raise NotSeen.of(self.reading.archive)
        if not is_worked_on(self.out, self.plan):
            raise NotSeen.of(self.out)


@dataclass(frozen=True)
class Worked:
    """A partition that is done: the lines, rows and files planned for it, and the swings in them.

    Empty lines are planned, as nobody looks into a line before it is read, and hold no swing.
    """

    planned: int
    swings: int


Progress = Callable[[int, int], None]
"""Told how many swings there are in all, as far as is known by then, and how many more are done."""


def tag_archive(wanted: TagArchive, settings: Settings, progress: Progress) -> Plan:
    """Tag an archive into a folder: all of it, or what is left or has changed since.

    Raises
    ------
    ArchiveError
        As :mod:`service.archive.errors` lists; what was done before stays.
    ManifestError
        As :meth:`service.use_cases.analyse.Analyser.of`.
    """
    refuse_folders(wanted)
    # A password has no business on a scheduler that keeps nothing.
    bare = settings.model_copy(update={"database_url": ""})
    model = _analyser(bare.model_dump_json()).model_version
    options = {
        "service": service.__version__,
        "model": model or "rules alone",
        "assumed": dict(wanted.assumed),
        "keep_by": wanted.keep_by,
        "academy": wanted.behalf.academy_id if wanted.keep_by else None,
        "max_frames": settings.max_frames,
        "min_frames": settings.min_frames,
    }
    with alone_in(wanted.out):
        plan, is_new = plan_for(wanted, options, settings, MARK)
        reading = reading_of(wanted, bare)
        if wanted.keep_by and is_new:
            _refuse_unknown_column(plan, reading, wanted.keep_by)
        keeping = wanted.keep_by and Keeping(
            by=wanted.keep_by,
            database_url=settings.database_url,
            behalf=wanted.behalf,
            results=plan.header.name,
            since_ms=plan.header.begun_ms,
            day_ms=plan.header.planned_ms,
        )
        job = partial(job_of, plan, reading, bare, model=model, keeping=keeping or None)
        return work_through(plan, MARK, tag_partition, job, wanted, progress)


def job_of(plan: Plan, reading: Reading, settings: Settings, number: int, **others: Any) -> Job:
    """What a worker must know to do one partition."""
    how, pieces = plan.how(number), plan.pieces(number)
    # A worker may have been started in another folder.
    out, aside = plan.folder.absolute(), plan.aside.absolute()
    return Job(number, how, pieces, reading, plan.header.tables, out, aside, settings, **others)


def _refuse_unknown_column(plan: Plan, reading: Reading, name: str) -> None:
    try:
        refuse_unknown_column(plan, reading, name)
    except NoSuchColumn:
        drop_plan(plan)
        raise


def work_through(
    plan: Plan,
    mark: str,
    work: Callable[[Job], Worked],
    job: Callable[[int], Job],
    wanted: TagArchive,
    progress: Progress,
) -> Plan:
    """Do every partition that is not done, tell how far it is, and make all of it the results."""
    open_ones = open_partitions(plan, mark)
    inputs = {n: sum(piece.count for piece in plan.pieces(n)) for n in open_ones}
    left = sum(inputs.values())
    progress(left, 0)
    jobs = map(job, open_ones)
    # To start workers takes longer than to do one partition; one to be cut takes next to nothing.
    is_little = sum(inputs[n] for n in open_ones if plan.how(n) is How.NEW) <= wanted.partition
    workers = 1 if is_little else min(wanted.workers, len(open_ones))
    if (workers <= 1 and wanted.scheduler is None) or not open_ones:
        done = run_here(work, jobs)
    else:
        done = run_on_dask(work, jobs, workers, wanted.scheduler)
    for worked in done:
        left += worked.swings - worked.planned
        progress(left, worked.swings)
    return finish(plan)


def plan_for(
    wanted: TagArchive, options: Mapping[str, Any], settings: Settings, mark: str
) -> tuple[Plan, bool]:
    """The plan to work on, and whether nothing was tagged into the folder before.

    Raises
    ------
    ChangedArchive, BegunOtherwise, EmptyArchive, NotWritten
    """
    archive, out = wanted.archive, wanted.out
    base = begun(out, mark)
    if base:
        _refuse_other_options(base.plan, options)
    asked = Wanted(archive, out, wanted.partition, settings.max_body_bytes, options)
    earlier = wanted.as_in and Another(wanted.as_in)
    return bring_up_to_date(asked, base or earlier or None, mark), base is None


def refuse_folders(wanted: TagArchive) -> None:
    """Make sure of the archive, and that results may go where they are wanted, before anything is
    written there.

    Raises
    ------
    ArchiveError
    """
    archive, out = wanted.archive, wanted.out
    if not archive.is_dir():
        raise ArchiveError(f"{archive} is no folder")
    for folder in (archive, out):
        if not is_utf8(str(folder)):
            raise ArchiveError(f"{str(folder)!r} has a name that is no UTF-8: give it another")
    if (archive / PLAN).is_dir() and (archive / MARK).is_dir():
        raise ArchiveError(
            f"{archive} holds results of this command, not swings: give the folder that they were "
            f"tagged from; python -m service summary {archive} sums them up"
        )
    if out.resolve().is_relative_to(archive.resolve()):
        raise ArchiveError(f"{out} lies in the archive, and would be read as part of it")


def _refuse_other_options(plan: Plan, options: Mapping[str, Any]) -> None:
    before = plan.header.options
    others = [n for n, value in options.items() if before.get(n) != value]
    if not others:
        return
    told = "; ".join(f"{n} was {before.get(n)!r}, not {options[n]!r}" for n in others)
    how = "Tag into another folder"
    if {*others} <= {"service", "model"}:
        how = f"python -m service retag {plan.folder} ARCHIVE --out NEW tells what that changes"
    raise BegunOtherwise(
        f"the results in {plan.folder} were begun otherwise: {told}. {how}, or go on as it was "
        "begun."
    )


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


def tag_partition(job: Job) -> Worked:
    """Read, analyse and write one partition, in whichever process.

    Raises
    ------
    BegunOtherwise
        When this process has another version or model than the one that planned the work.
    """
    analyser = _analyser(job.settings.model_dump_json())
    if analyser.model_version != job.model:
        raise BegunOtherwise(
            f"a worker has the model {analyser.model_version}, not {job.model}: give every machine "
            "the same version and SWING_MODEL_DIR"
        )
    if job.how is How.CUT:
        job.cut([*RESULTS])
        return Worked(job.planned, job.planned)
    rows, seen, swings = Rows(), Seen([*RESULTS]), 0
    inputs = (each for piece in job.pieces for each in job.reading.inputs(piece))
    for chunk in _chunks(inputs):
        _tag_chunk(chunk, analyser, rows, seen, job.keeping)
        swings += len(chunk)
    job.write({SEEN: seen.table(), **rows.tables()})
    return Worked(job.planned, swings)


def _tag_chunk(
    chunk: Sequence[Input], analyser: Analyser, rows: Rows, seen: Seen, keeping: Keeping | None
) -> None:
    read = [each.swing for each in chunk if isinstance(each.swing, ReadSwing)]
    analyses = analyser.analyse_each([swing.recording for swing in read])
    kept = keep_chunk(keeping, read, analyses) if keeping else [Kept()] * len(read)
    found = iter(zip(analyses, kept, strict=True))
    for each in chunk:
        if isinstance(each.swing, Refused):
            made = rows.add_refused(each.swing)
        else:
            made = _add(rows, each.swing, *next(found))
        seen.add(each.path, each.first, each.fingerprint, **made)


def _add(
    rows: Rows, swing: ReadSwing, analysis: SwingAnalysis | Exception, kept: Kept
) -> Mapping[str, int]:
    if isinstance(analysis, SwingAnalysis):
        return rows.add(swing, analysis, kept)
    return rows.add_refused(Refused(swing.origin, analysis, swing.reference))


def _chunks(swings: Iterable[T]) -> Iterator[list[T]]:
    these = iter(swings)
    while chunk := list(islice(these, CHUNK)):
        yield chunk


@lru_cache(maxsize=2)
def _analyser(settings: str) -> Analyser:
    """Made once a process."""
    return Analyser.of(Settings.model_validate_json(settings))
