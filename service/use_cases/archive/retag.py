"""An archive or kept swings analysed anew by the present model, beside what was found before."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

import service
from service.analysis.types import SwingAnalysis
from service.archive.errors import ArchiveError
from service.archive.results import Results, finished_results
from service.lessons.changes.retold import Changes
from service.records import Database, RecordNotFound, SwingFilter, Window
from service.records.errors import ConsentMissing
from service.records.keeping import swings
from service.settings import Settings
from service.use_cases.analyse import Analyser
from service.use_cases.archive.tag import Progress, TagArchive, tag_archive
from service.use_cases.keep import analyse_again

_PAGE = 200
_SAID = ("swing", "fault", "status")
_NAMED = ("swing", "path", "line")


@dataclass(frozen=True)
class KeptAnew:
    """What became of kept swings.

    Attributes
    ----------
    up_to_date
        Swings whose newest analysis is by this version and model already.
    left_alone
        Swings deleted meanwhile, or without the consent that keeping takes.
    """

    changes: Changes
    analysed: int
    up_to_date: int
    left_alone: int


@dataclass(frozen=True)
class TaggedAnew:
    """What became of an archive.

    Attributes
    ----------
    files
        How many were added, changed or gone since the earlier results; their swings are not
        compared.
    """

    changes: Changes
    files: Mapping[str, int]


def retag_results(
    earlier: Path, archive: Path, out: Path, workers: int, scheduler: str | None,
    settings: Settings, progress: Progress,
) -> TaggedAnew:  # fmt: skip
    """Tag an archive again into a folder of its own, and tell what differs from earlier results.

    Raises
    ------
    NoResults
        When the earlier results are unfinished.
    ChangedArchive
        When the archive is another one than that which they were made from.
    ArchiveError
        As :func:`service.use_cases.archive.tag.tag_archive`.
    """
    before = finished_results(earlier)
    if out.resolve() == earlier.resolve():
        raise ArchiveError("both are to be kept: give another folder than that of the results")
    assumed = before.plan.header.options["assumed"]
    wanted = TagArchive(
        archive, out, assumed, workers=workers, scheduler=scheduler, as_in=before.plan
    )
    after = Results(out, tag_archive(wanted, settings, progress))
    changes = Changes()
    for number in set(before.plan.partitions) & set(after.plan.partitions):
        now = _statuses(after, number)
        for swing, (name, then) in _statuses(before, number).items():
            # What only one of the two could read is a row among the errors of the other.
            if swing in now:
                changes.add(name, then, now[swing][1])
    return TaggedAnew(changes, after.plan.header.changes)


def retag_kept(
    database: Database, analyser: Analyser, wanted: SwingFilter, progress: Progress
) -> KeptAnew:
    """Analyse kept swings with the present model where that was not done yet.

    Each gets another analysis beside the earlier ones. Run again after a kill it does the rest.

    Raises
    ------
    RecordsUnavailable
    """
    changes, analysed, up_to_date, left_alone = Changes(), 0, 0, 0
    pages = list(_pages(database, wanted))
    left = sum(map(len, pages))
    for ids in pages:
        with database.reading() as session:
            kept = swings.newest(session, ids)
        for swing in kept:
            made_by = swing.kept.made_by
            if (made_by.service, made_by.model) == (service.__version__, analyser.model_version):
                up_to_date += 1
                continue
            try:
                anew = analyse_again(database, analyser, swing.id)
            except (RecordNotFound, ConsentMissing):  # deleted or withdrawn meanwhile
                left_alone += 1
                continue
            analysed += 1
            changes.add(swing.id, _said(swing.analysis), _said(anew.analysis))
        progress(left, len(ids))
    return KeptAnew(changes, analysed, up_to_date, left_alone)


def _pages(database: Database, wanted: SwingFilter) -> Iterator[list[str]]:
    """Ids of the swings that are wanted, some at a time."""
    after: str | None = None
    while True:
        with database.reading() as session:
            page = swings.fetch_page(session, wanted, Window(_PAGE, after))
        if page.items:
            yield [swing.id for swing in page.items]
        after = page.last
        if after is None:
            return


def _said(analysis: SwingAnalysis) -> dict[str, str]:
    return {finding.fault: finding.status.value for finding in analysis.findings}


def _statuses(results: Results, number: int) -> dict[str, tuple[str, dict[str, str]]]:
    """Of each swing of a partition its place in the archive, and its status by fault."""
    named = results.read("swings", number, _NAMED).to_pylist()
    found: dict[str, tuple[str, dict[str, str]]] = {
        row["swing"]: (row["path"] if row["line"] is None else f"{row['path']}:{row['line']}", {})
        for row in named
    }
    for row in results.read("findings", number, _SAID).to_pylist():
        found[row["swing"]][1][row["fault"]] = row["status"]
    return found
