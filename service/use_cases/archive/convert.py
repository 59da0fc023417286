"""An archive of files written once as tables, from which it can be tagged without any JSON."""

from __future__ import annotations

from functools import partial
from typing import Final

import pyarrow as pa

import service
from service.archive.files.fingerprints import SEEN, Seen
from service.archive.planning.plan import How, Plan
from service.archive.planning.writing import alone_in
from service.archive.rows import Rows
from service.archive.table import clip_row, clips_table
from service.intake.many.reading import ReadSwing, Refused
from service.settings import Settings
from service.use_cases.archive.tag import (
    Job,
    Progress,
    TagArchive,
    Worked,
    job_of,
    plan_for,
    reading_of,
    refuse_folders,
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
    refuse_folders(wanted)
    options = {"service": service.__version__, "assumed": dict(wanted.assumed)}
    bare = settings.model_copy(update={"database_url": ""})
    with alone_in(wanted.out):
        plan, _ = plan_for(wanted, options, settings, CLIPS)
        job = partial(job_of, plan, reading_of(wanted, bare), bare)
        return work_through(plan, CLIPS, convert_partition, job, wanted, progress)


def convert_partition(job: Job) -> Worked:
    """Read and write one partition, in whichever process."""
    if job.how is How.CUT:
        job.cut([ERRORS, CLIPS])
        return Worked(job.planned, job.planned)
    tables = _tables(job)
    job.write(tables)
    return Worked(job.planned, tables[ERRORS].num_rows + tables[CLIPS].num_rows)


def _tables(job: Job) -> dict[str, pa.Table]:
    refused, clips, seen = Rows(), [], Seen([ERRORS, CLIPS])
    for piece in job.pieces:
        for each in job.reading.inputs(piece):
            if isinstance(each.swing, Refused):
                refused.add_refused(each.swing)
            else:
                clips.append(_row(each.swing))
            made = ERRORS if isinstance(each.swing, Refused) else CLIPS
            seen.add(each.path, each.first, each.fingerprint, **{made: 1})
    return {
        ERRORS: refused.tables()["errors"],
        SEEN: seen.table(),
        CLIPS: clips_table(clips),
    }


def _row(swing: ReadSwing) -> dict[str, object]:
    told = swing.request.model_dump(mode="json", exclude_none=True)
    origin = (swing.origin.path, swing.origin.line)
    return clip_row(swing.recording, told, swing.carried, origin)
