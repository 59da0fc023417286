"""Where the time of an archive goes: ``python -m tests.bench.archive.stages [SWINGS]``.

Processor time a swing of each stage, and bytes a swing of each way of writing it: what a plan for a
large archive is reckoned from.
"""

from __future__ import annotations

import gzip
import json
import sys
import time
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory

from service.archive.files.listing import files_of, pieces_of
from service.archive.files.reading import Reading
from service.archive.results import write_part
from service.archive.rows import Rows
from service.intake.many.reading import Reader, ReadSwing
from service.settings import Settings
from service.use_cases.analyse import Analyser
from tests.bench.archive.made import requests, write_table

SWINGS = 128
ROUNDS = 3


def main(swings: int) -> None:
    """Print a line a stage."""
    analyser = Analyser.of(Settings(database_url=""))
    with TemporaryDirectory() as folder:
        write_table(Path(folder) / "table" / "x.parquet", swings)
        lines = b"\n".join(json.dumps(request).encode() for request in requests(swings))
        for name, text in (("lines", lines), ("lines.gz", gzip.compress(lines))):
            path = Path(folder) / name / f"x.ndjson{name.removeprefix('lines')}"
            path.parent.mkdir()
            path.write_bytes(text)
        for name in ("table", "lines", "lines.gz"):
            archive = Path(folder) / name
            (file,) = files_of(archive)
            pieces = list(pieces_of(archive, file, 512))
            reading = Reading(archive, Reader(analyser.limits, 1 << 24))
            listed = best(lambda a=archive, f=file: list(pieces_of(a, f, 512)))
            took = best(lambda r=reading, p=pieces: [s for each in p for s in r.swings(each)])
            print(
                f"{name:9s} {file.size / swings / 1e3:6.1f} kB, planned in "
                f"{1e3 * listed / swings:.2f} ms, read in {1e3 * took / swings:.2f} ms a swing"
            )
        read = [s for each in pieces for s in reading.swings(each) if isinstance(s, ReadSwing)]
        recordings = [swing.recording for swing in read]
        took = best(lambda: analyser.analyse_many(recordings))
        print(f"analysed in {1e3 * took / swings:.2f} ms a swing")
        analyses = analyser.analyse_many(recordings)

        def write() -> None:
            rows = Rows()
            for swing, analysis in zip(read, analyses, strict=True):
                rows.add(swing, analysis)
            write_part(Path(folder) / "out", 0, rows.tables())

        print(f"written in {1e3 * best(write) / swings:.2f} ms a swing")
        size = sum(path.stat().st_size for path in (Path(folder) / "out").rglob("*.parquet"))
        print(f"results   {size / swings / 1e3:6.2f} kB a swing")


def best(work: Callable[[], object]) -> float:
    """Least processor time of some rounds, in seconds."""
    spent = []
    for _ in range(ROUNDS):
        start = time.process_time()
        work()
        spent.append(time.process_time() - start)
    return min(spent)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else SWINGS)
