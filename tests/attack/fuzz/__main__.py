"""Bent requests through decoder, analysis and answer.

``python -m tests.attack.fuzz [CASES [SEED [FIRST]]]``; 20,000 cases of seed 1 unless told
otherwise. Each must be answered or refused in words: no other exception, no number in the answer
that is no number, no second of CPU time, and memory bounded. What fails is written to
``tests/attack/fuzz/found`` and made again by the tests for ever.
"""

from __future__ import annotations

import os
import resource
import signal
import sys
import time
import traceback
import warnings
from collections import Counter
from pathlib import Path
from typing import Final

from service.settings import Settings
from service.use_cases.analyse import Analyser
from tests.attack.fuzz.corpus import bodies
from tests.attack.fuzz.mutations import case
from tests.attack.fuzz.outcomes import FOUND, Failed, outcome

CASES: Final[int] = 20_000
MOST_SECONDS: Final[float] = 1.0
HANGS_AFTER: Final[int] = 60
"""Seconds of wall time: more than any neighbour on the machine takes away from a case."""
MOST_GROWTH: Final[int] = 256
"""MiB by which the process may grow over what it has after :data:`_WARM` cases."""
_WARM: Final[int] = 300


def main() -> int:
    """Print the figures; 1 when a case failed or the process grew too much."""
    count, seed, first = ([int(a) for a in sys.argv[1:]] + [CASES, 1, 0][len(sys.argv) - 1 :])[:3]
    analyser, corpus = Analyser.of(Settings(database_url="")), bodies()
    outcomes: Counter[str] = Counter()
    failures, longest, warm = 0, (0.0, -1), 0
    signal.signal(signal.SIGALRM, _hangs)
    for number in range(first, first + count):
        body, gzipped = case(corpus, seed, number)
        signal.alarm(HANGS_AFTER)
        begin = time.process_time()
        try:
            with warnings.catch_warnings(record=True) as warned:
                warnings.simplefilter("always")
                outcomes[outcome(analyser, body, gzipped)] += 1
            outcomes["warned of numbers"] += bool(warned)
            took = time.process_time() - begin
            if took > MOST_SECONDS:
                raise Failed(f"took {took:.2f} s of CPU time")
        except Exception:
            failures += 1
            outcomes["failed"] += 1
            _keep(body, gzipped, seed, number)
        finally:
            signal.alarm(0)
        longest = max(longest, (time.process_time() - begin, number))
        warm = resident() if number == first + _WARM else warm
        if (number - first) % 2000 == 1999:
            print(f"{number - first + 1} cases: {dict(outcomes)}", flush=True)
    grown = peak() - (warm or resident())
    print(
        f"{count} cases of seed {seed} from {first}: {dict(outcomes)}; longest "
        f"{longest[0]:.2f} s of CPU (case {longest[1]}), grew by at most {grown} MiB "
        f"over {warm} MiB, allowed {MOST_GROWTH}"
    )
    return int(failures > 0 or grown > MOST_GROWTH)


def _hangs(*_: object) -> None:
    raise Failed(f"no outcome within {HANGS_AFTER} s")


def _keep(body: bytes, gzipped: bool, seed: int, number: int) -> None:
    FOUND.mkdir(exist_ok=True)
    file = FOUND / f"{seed}-{number}.{'gz' if gzipped else 'json'}"
    file.write_bytes(body)
    print(f"--- case {number}: {file}\n{traceback.format_exc(limit=-4)}", flush=True)


def resident() -> int:
    """MiB of memory that the process holds."""
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") >> 20


def peak() -> int:
    """The most MiB that it ever held."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss >> 10


if __name__ == "__main__":
    sys.exit(main())
