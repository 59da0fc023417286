"""How long a recap takes: ``python -m tests.bench.recap_time``.

The demonstration's lesson of 8 analysed swings with one visit before it, put together and
rendered as HTML, on one core.
"""

from __future__ import annotations

import os
import statistics
import time

from service.demo import lesson_visits
from service.intake.recording import Limits
from service.report.recap import render_html
from service.use_cases.recap import recap_of

RUNS = 100


def main() -> None:
    """Print the median and the slowest of the runs, the first among them, and the page's size."""
    os.sched_setaffinity(0, {0})
    player, visits = lesson_visits(Limits(12, 1000))
    spent, page = [], ""
    for _ in range(RUNS):
        start = time.perf_counter()
        page = render_html(recap_of(player, visits))
        spent.append(1e3 * (time.perf_counter() - start))
    print(
        f"{len(visits[-1].swings)} swings: first {spent[0]:.0f} ms, median "
        f"{statistics.median(spent):.0f} ms, slowest {max(spent):.0f} ms over {RUNS} runs; "
        f"page {len(page.encode()) / 1000:.0f} kB"
    )


if __name__ == "__main__":
    main()
