"""How long a recap takes: ``python -m tests.bench.recap_time``.

The demonstration's lesson of 8 analysed swings with one visit before it, kept in SQLite, read,
put together and rendered as HTML, on one core.
"""

from __future__ import annotations

import os
import statistics
import time
from tempfile import TemporaryDirectory

from service.demo import keep_lessons
from service.records import Database, upgrade
from service.settings import Settings
from service.use_cases.analyse import Analyser
from service.use_cases.recap import recap_page

RUNS = 100


def main() -> None:
    """Print the median and the slowest of the runs, the first among them, and the page's size."""
    os.sched_setaffinity(0, {0})
    with TemporaryDirectory() as folder:
        database = Database(f"sqlite:///{folder}/bench.db")
        upgrade(database)
        lesson_id = keep_lessons(database, Analyser.of(Settings()))
        spent, page = [], ""
        for _ in range(RUNS):
            start = time.perf_counter()
            with database.reading() as session:
                page = recap_page(session, lesson_id)
            spent.append(1e3 * (time.perf_counter() - start))
        database.close()
    print(
        f"first {spent[0]:.0f} ms, median {statistics.median(spent):.0f} ms, "
        f"slowest {max(spent):.0f} ms over {RUNS} runs; page {len(page.encode()) / 1000:.0f} kB"
    )


if __name__ == "__main__":
    main()
