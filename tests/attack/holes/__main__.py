"""The thirteen holes tried on any version: ``python -m tests.attack.holes [COMMIT [NUMBER ...]]``.

Without a commit, or with ``.``, the present code is tried. The same is done to every version, over
HTTP and by signals alone; what is printed is what was seen, for a table of before and after.
"""

from __future__ import annotations

import io
import subprocess
import sys
import tarfile
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final

from tests.attack.holes import doors, kept, state, words
from tests.attack.holes.served import Code

HOLES: Final[tuple[tuple[str, Callable[[Code], str]], ...]] = (
    ("one gzip request stops the process", doors.members),
    ("connections that bring nothing", doors.silent),
    ("small gzip, large JSON", doors.unpacks),
    ("/readyz", state.ready),
    ("a database that hangs", state.hung),
    ("telemetry", kept.telemetry),
    ("a write whose confirmation is lost", state.lost_confirmation),
    ("500 and tracebacks", words.errors),
    ("throughput with the settings as they come", doors.threads),
    ("what was deleted", kept.forgotten),
    ("models that were changed", state.models),
    ("shutdown", kept.shutdown),
    ("contract", words.contract),
)


def main() -> None:
    """Print a line a hole."""
    commit = sys.argv[1] if len(sys.argv) > 1 else "."
    wanted = {int(number) for number in sys.argv[2:]} or set(range(1, len(HOLES) + 1))
    with TemporaryDirectory() as folder:
        code = Code(Path.cwd() if commit == "." else _taken(commit, Path(folder)))
        for number, (name, seen) in enumerate(HOLES, start=1):
            if number in wanted:
                print(f"{number:2d}. {name}: {_tried(seen, code)}", flush=True)


def _taken(commit: str, folder: Path) -> Path:
    """The code of a commit, as files."""
    packed = subprocess.run(["git", "archive", commit], check=True, capture_output=True).stdout
    with tarfile.open(fileobj=io.BytesIO(packed)) as archive:
        archive.extractall(folder, filter="data")
    return folder


def _tried(seen: Callable[[Code], str], code: Code) -> str:
    try:
        return seen(code)
    except Exception as error:  # so that one that can't be tried leaves the others
        return f"could not be tried: {type(error).__name__}: {error}"


if __name__ == "__main__":
    main()
