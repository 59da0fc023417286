"""An older version's server and the present one's on one database, both written to.

``python -m tests.attack.side_by_side COMMIT [SECONDS]``. The older one, taken from the history, is
served first; the present one migrates while it is written to, and is then served beside it. Both
must go on answering, and everything acknowledged must be there once.
"""

from __future__ import annotations

import io
import random
import subprocess
import sys
import tarfile
import tempfile
import threading
import time
from pathlib import Path

from tests.attack.kills.killable import Server, postgres_programs, running_postgres
from tests.attack.kills.writers import WRITERS, Written, judged, keep_writing, new_lesson, there


def main() -> int:
    """Print what became of all; 1 when something was lost, doubled or answered wrongly."""
    commit = sys.argv[1]
    seconds = float(sys.argv[2]) if len(sys.argv) > 2 else 20.0
    programs = postgres_programs()
    if programs is None:
        print("PostgreSQL is not installed")
        return 2
    with tempfile.TemporaryDirectory() as folder:
        packed = subprocess.run(["git", "archive", commit], check=True, capture_output=True).stdout
        with tarfile.open(fileobj=io.BytesIO(packed)) as archive:
            archive.extractall(folder, filter="data")
        with running_postgres(programs) as postgres:
            return _together(Path(folder), postgres.url, seconds)


def _together(older: Path, url: str, seconds: float) -> int:
    old, new = Server(url, folder=older), Server(url)
    written = Written()
    try:
        old.start()
        lesson = new_lesson(old.address)
        writers = _writers(old.address, lesson, written, 0.1)
        time.sleep(seconds / 2)
        print(f"{len(written)} acknowledged by the older version alone", flush=True)
        new.start()  # migrates first
        print(f"{len(written)} acknowledged until the newer one was up", flush=True)
        writers += _writers(new.address, lesson, written, 0.2)
        time.sleep(seconds)
        written.enough.set()
        for each in writers:
            each.join()
        found = there(old.address)
        same = sorted(found) == sorted(there(new.address))
        print("both versions list the same" if same else "the two versions list different things")
        return judged(written, found) or int(not same)
    finally:
        written.enough.set()
        old.kill()
        new.kill()


def _writers(address: str, lesson: str, written: Written, seed: float) -> list[threading.Thread]:
    rng = random.Random(seed)
    writers = [
        threading.Thread(target=keep_writing, args=(address, lesson, written, rng.random()))
        for _ in range(WRITERS // 2)
    ]
    for each in writers:
        each.start()
    return writers


if __name__ == "__main__":
    sys.exit(main())
