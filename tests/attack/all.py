"""What was mended, and what shows each today: ``python -m tests.attack.all [NUMBER ...]``.

For each of the thirteen it makes the tests that show it and prints how many passed and how long the
longest took, start of its server left out; where a figure says more, the command that prints it is
named. Exit status 1 when any fails.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
from dataclasses import dataclass
from typing import Final

_OUTCOME: Final = re.compile(r"(\d+) (passed|failed|skipped|errors?)")
_CALL: Final = re.compile(r"^([\d.]+)s call ", re.MULTILINE)


@dataclass(frozen=True)
class Mend:
    """One thing that was wrong.

    Attributes
    ----------
    tests
        What shows that it is no more, as pytest takes it.
    figures
        Commands that print more, and take minutes.
    """

    what: str
    tests: tuple[str, ...]
    figures: tuple[str, ...] = ()


MENDS: Final[tuple[Mend, ...]] = (
    Mend(
        "one gzip request stopped the process",
        ("tests/attack/test_gzip.py",),
        ("tests.bench.serving.health_under_load",),
    ),
    Mend(
        "silent and slow connections kept others out",
        ("tests/attack/test_connections.py", "tests/attack/test_slow_senders.py"),
    ),
    Mend(
        "small bodies unpacked to large JSON",
        (
            "tests/attack/test_gzip.py",
            "tests/intake/test_long_json.py",
            "tests/api/http/test_transport.py",
        ),
        ("tests.bench.serving.health_under_load",),
    ),
    Mend(
        "/readyz was wrong both ways",
        ("tests/api/health/test_readiness.py", "tests/attack/test_ready_under_load.py"),
        ("tests.bench.serving.health_under_load",),
    ),
    Mend("a hung database stopped everything", ("tests/records/connection/test_limits.py",)),
    Mend("the model runtime told of itself", ("tests/attack/test_telemetry.py",)),
    Mend(
        "a failed commit was told as nothing written",
        ("tests/records/connection/test_limits.py", "tests/api/http/test_retries.py"),
        ("tests.attack.kills",),
    ),
    Mend(
        "valid input was answered with 500",
        (
            "tests/analysis/test_gaps.py",
            "tests/api/routes/test_records_batch.py",
            "tests/api/health/test_readiness.py",
            "tests/commands/test_command_line.py",
            "tests/attack/fuzz",
        ),
        ("tests.attack.fuzz",),
    ),
    Mend(
        "threads halved the throughput",
        ("tests/api/load/test_admission.py",),
        ("tests.bench.serving.throughput", "tests.bench.serving.overload"),
    ),
    Mend("what was deleted could still be read", ("tests/records/privacy/test_forgetting.py",)),
    Mend("models were believed unseen", ("tests/analysis/judging/test_manifest.py",)),
    Mend(
        "shutdown and single requests took as long as they took",
        (
            "tests/attack/test_shutdown.py",
            "tests/records/test_bounded_recap.py",
            "tests/api/routes/test_records_batch.py",
        ),
        ("tests.bench.many_swings",),
    ),
    Mend(
        "the contract left things out",
        ("tests/api/http/test_methods.py", "tests/api/routes/test_confidences.py"),
    ),
)


def main() -> int:
    """Print a line a mend; 1 when a test of any failed."""
    wanted = {int(number) for number in sys.argv[1:]} or set(range(1, len(MENDS) + 1))
    failed = 0
    for number, mend in enumerate(MENDS, start=1):
        if number in wanted:
            status, told = _made(mend.tests)
            failed += status != 0
            print(f"{number:2d}. {mend.what}: {told}", flush=True)
            for command in mend.figures:
                print(f"    figures: python -m {command}")
    return int(failed > 0)


def _made(tests: tuple[str, ...]) -> tuple[int, str]:
    """Exit status, and what came of them in words."""
    command = [sys.executable, "-m", "pytest", "-q", "--durations=0", "-p", "no:cacheprovider"]
    ran = subprocess.run([*command, *tests], env=os.environ, capture_output=True, text=True)
    told = ", ".join(f"{n} {what}" for n, what in _OUTCOME.findall(ran.stdout[-400:]))
    longest = max((float(s) for s in _CALL.findall(ran.stdout)), default=0.0)
    if ran.returncode != 0:
        print(ran.stdout[-3000:], ran.stderr[-1000:])
    return ran.returncode, f"{told or 'nothing was run'}, the longest in {longest:.2f} s"


if __name__ == "__main__":
    sys.exit(main())
