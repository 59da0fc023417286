"""How long what sums up a player of many swings takes, and how much memory.

``python -m tests.bench.many_swings [SWINGS]``. The demonstration's face-on swing, kept again and
again in 30 lessons of one player in SQLite; then the recap of the last lesson as a page, the
player's progress and the export, each in a process of its own.
"""

from __future__ import annotations

import resource
import sys
import time
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from multiprocessing import get_context
from tempfile import TemporaryDirectory, TemporaryFile

from service.demo import clip_body
from service.records import Database, NewSwing, Role, upgrade
from service.records.keeping import lessons, players, swings
from service.settings import Settings
from service.use_cases.analyse import Analyser
from service.use_cases.compare import progress_of
from service.use_cases.export import write_archive
from service.use_cases.keep import provenance
from service.use_cases.recap import recap_page

LESSONS = 30


def main() -> None:
    """Print the figures."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 1500
    with TemporaryDirectory() as folder:
        url = f"sqlite:///{folder}/bench.db"
        player, lesson = fill(url, count)
        for name, work in (("recap", recap), ("progress", progress), ("export", export)):
            process = get_context("spawn").Process(
                target=tell, args=(name, work, url, player, lesson)
            )
            process.start()
            process.join()


def fill(url: str, count: int) -> tuple[str, str]:
    """Keep the swings; ids of the player and of the last lesson."""
    body = clip_body("face_on")
    analysis = Analyser.of(Settings()).analyse_body(body).analysis
    new = NewSwing(datetime.now(UTC), Role.OTHER, None, body)
    database = Database(url)
    upgrade(database)
    with database.writing() as session:
        player = players.add(session, "Ada Fairway")
        for number in range(LESSONS):
            lesson = lessons.add(session, player.id, date(2025, 1, 1) + timedelta(days=number))
            for _ in range(count // LESSONS):
                swings.add(session, lesson.id, new, analysis, provenance(analysis))
                session.expunge_all()
    database.close()
    return player.id, lesson.id


def recap(database: Database, _player: str, lesson: str) -> None:
    """The recap as a page."""
    with database.reading() as session:
        recap_page(session, lesson)


def progress(database: Database, player: str, _lesson: str) -> None:
    """The progress over all lessons."""
    with database.reading() as session:
        progress_of(session, player)


def export(database: Database, player: str, _lesson: str) -> None:
    """The archive of everything."""
    with database.reading() as session, TemporaryFile() as file:
        write_archive(session, player, file)


def tell(
    name: str, work: Callable[[Database, str, str], None], url: str, player: str, lesson: str
) -> None:
    """Do one and print what it took."""
    database = Database(url)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    begin, used = time.perf_counter(), time.process_time()
    work(database, player, lesson)
    more = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before
    print(
        f"{name:9s} {time.perf_counter() - begin:6.1f} s, {time.process_time() - used:6.1f} s of "
        f"processor time, {more / 1024:5.0f} MiB more",
        flush=True,
    )


if __name__ == "__main__":
    main()
