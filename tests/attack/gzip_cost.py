"""Seconds until gzip made to cost is refused: ``python -m tests.attack.gzip_cost``."""

from __future__ import annotations

import contextlib
import gzip
import time
from typing import Final

from service.api.http.gzip_bodies import gunzip
from service.api.http.problems import ProblemError

LIMIT: Final[int] = 16 * 1024 * 1024


def main() -> None:
    """Print the CPU time of each."""
    for name, body in {
        "835,000 empty members": (gzip.compress(b"") * 835_000)[:LIMIT],
        "24 kB that unpack to 16 MiB of lists": gzip.compress(b"[" + b"[]," * (LIMIT // 3)),
    }.items():
        begin = time.process_time()
        with contextlib.suppress(ProblemError):
            gunzip(body, LIMIT)
        print(f"    {name}: {time.process_time() - begin:.3f} s of CPU until refused")


if __name__ == "__main__":
    main()
