"""Memory and time against the count: ``python -m tests.bench.archive.memory [COUNT ...]``.

Swings of 240 frames of COCO-17 in a table, tagged in one process each; the most memory that it ever
held, and its processor time. Flat is within 20 % of the first count.
"""

from __future__ import annotations

import multiprocessing
import resource
import sys
import time
from pathlib import Path
from tempfile import TemporaryDirectory

from service.settings import Settings
from service.use_cases.archive.tag import TagArchive, tag_archive
from tests.bench.archive.made import write_table

COUNTS = (1_000, 10_000, 100_000)
FLAT = 0.2


def main(counts: list[int]) -> None:
    """Print a line a count, and whether memory and time are as they should be."""
    with TemporaryDirectory() as folder:
        told = []
        for count in counts:
            archive = Path(folder) / str(count)
            write_table(archive / "swings.parquet", count)
            with multiprocessing.get_context("spawn").Pool(1) as pool:
                megabytes, seconds = pool.apply(tag_and_measure, (archive,))
            told.append((megabytes, seconds / count))
            print(
                f"{count:>8} swings: {megabytes:.0f} MB at most, "
                f"{1e3 * seconds / count:.2f} ms a swing",
                flush=True,
            )
        memory, pace = (
            max(each) / told[0][k] - 1 for k, each in enumerate(zip(*told, strict=True))
        )
        print(
            f"memory grows by {100 * memory:.0f} % {'(flat)' if memory <= FLAT else '(not flat)'}, "
            f"time a swing by {100 * pace:.0f} %"
        )


def tag_and_measure(archive: Path) -> tuple[float, float]:
    """Most memory in MB, and seconds of processor time without the start."""
    settings = Settings(database_url="")
    began: list[float] = []

    def progress(_left: int, _more: int) -> None:
        began.append(time.process_time())

    tag_archive(TagArchive(archive, archive.parent / f"{archive.name}-out", {}), settings, progress)
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024, began[-1] - began[0]


if __name__ == "__main__":
    main([int(each) for each in sys.argv[1:]] or list(COUNTS))
