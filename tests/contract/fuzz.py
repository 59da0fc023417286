"""Requests drawn from the contract, against a server: ``python -m tests.contract.fuzz``.

Every check of schemathesis on every operation: edge cases of each parameter, drawn requests that
keep the contract and that break it, and chains of requests that follow its links. Prints how many
cases there were and what was wrong; exit status 1 where anything was.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Final

from tests.contract.seeds import ENVIRONMENT, seed
from tests.contract.serving import serving_with_key

ROOT: Final = Path(__file__).parents[2]
CONFIG: Final = Path(__file__).with_name("schemathesis.toml")
LEAST_CASES: Final[int] = 3000


@dataclass(frozen=True)
class Run:
    """What came of it.

    Attributes
    ----------
    passed
        Whether nothing was wrong.
    text
        What schemathesis says.
    report
        Its report.
    """

    passed: bool
    text: str
    report: dict[str, Any]

    @property
    def cases(self) -> int:
        """How many requests were checked."""
        return int(self.report["test_cases"]["generated"])


def fuzz(server: str, key: str, folder: Path, examples: int, *options: str, draw: int = 1) -> Run:
    """Draw requests and check the answers.

    Parameters
    ----------
    key
        One that may do all that the contract tells.
    folder
        For the report.
    examples
        Most requests drawn for one operation in each phase.
    options
        For the command line of schemathesis.
    draw
        The same requests for the same number.
    """
    report = folder / "report.json"
    command = [
        *(sys.executable, "-m", "schemathesis.cli", "--config-file", str(CONFIG)),
        *("run", f"{server}/openapi.json"),
        *("--checks", "all", "--continue-on-failure", "--no-shrink", "--seed", str(draw)),
        *("--max-examples", str(examples), "--suppress-health-check", "all"),
        *("--request-timeout", "60", "--header", f"Authorization: Bearer {key}"),
        *("--report", "json", "--report-json-path", str(report), *options),
    ]
    environment = {
        **os.environ,
        "SCHEMATHESIS_HOOKS": "tests.contract.hooks",
        "PYTHONPATH": str(ROOT),
        ENVIRONMENT: json.dumps(seed(server, key)),
    }
    done = subprocess.run(
        command, cwd=folder, env=environment, capture_output=True, text=True, check=False
    )
    if not report.exists():
        raise RuntimeError(done.stdout + done.stderr)
    return Run(done.returncode == 0, done.stdout, json.loads(report.read_text(encoding="utf-8")))


def main() -> int:
    """Run it all and say what came of it."""
    parser = argparse.ArgumentParser(prog="python -m tests.contract.fuzz", description=__doc__)
    parser.add_argument("--examples", type=int, default=20, help="most drawn for an operation")
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    with TemporaryDirectory() as folder, serving_with_key(Path(folder)) as (server, key):
        run = fuzz(server, key, Path(folder), asked.examples, draw=asked.seed)

    print(run.text)
    print(f"{run.cases} cases in {run.report['running_time']:.0f} s")
    return 0 if run.passed and run.cases >= LEAST_CASES else 1


if __name__ == "__main__":
    sys.exit(main())
