"""An archive of files written once as tables, from which it can be tagged without any JSON."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

import pyarrow as pa

import service
from service.archive.plan import Plan, alone_in
from service.archive.results import done, sweep, write_part
from service.archive.rows import Rows
from service.archive.table import clip_row, clips_table
from service.intake.many.reading import ReadSwing, Refused
from service.settings import Settings
from service.use_cases.archive.tag import (
    Job,
    Progress,
    TagArchive,
    open_or_make_plan,
    reading_of,
    work_through,
)

CLIPS: Final[str] = "clips"
"""Folder of the tables within the one that is written to."""
ERRORS: Final[str] = "_errors"
"""Folder of what could not be read; what begins with _ is no part of an archive."""


def convert_archive(wanted: TagArchive, settings: Settings, progress: Progress) -> Plan:
    """Write an archive as tables, or go on where an earlier run was interrupted.

    Raises
    ------
    ArchiveError
        As :func:`service.use_cases.archive.tag.tag_archive`.
    """
    options = {"service": service.__version__, "assumed": dict(wanted.assumed)}
    bare = settings.model_copy(update={"database_url": ""})
    with alone_in(wanted.out):
        plan = open_or_make_plan(wanted, options)
        sweep(wanted.out)
        reading = reading_of(wanted, settings)

        def jobs(numbers: Sequence[int]) -> Iterator[Job]:
            for number in numbers:
                yield Job(number, plan.pieces(number), reading, wanted.out, bare, None, None)

        work_through(plan, done(wanted.out, CLIPS), convert_partition, jobs, wanted, progress)
    return plan


def convert_partition(job: Job) -> int:
    """Read and write one partition, in whichever process; how many inputs it had."""
    refused, clips = Rows(), []
    for piece in job.pieces:
        for each in job.reading.swings(piece):
            if isinstance(each, Refused):
                refused.add_refused(each)
            else:
                clips.append(_row(each))
    tables: dict[str, pa.Table] = {ERRORS: refused.tables()["errors"], CLIPS: clips_table(clips)}
    write_part(job.out, job.number, tables)
    return sum(piece.count for piece in job.pieces)


def _row(swing: ReadSwing) -> dict[str, object]:
    told = swing.request.model_dump(mode="json", exclude_none=True)
    origin = (swing.origin.path, swing.origin.line)
    return clip_row(swing.recording, told, swing.carried, origin)
