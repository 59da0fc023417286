"""Verdicts, measures and positions on every make of swing, motion capture played again and a
stranger's golfer (:mod:`tests.reference.stranger`) included.

``python -m tests.reference.left_out [--clips N] [--source NAME]`` prints the tables of
``python -m training.evaluation.sources`` with those sources among them; exit status 2 without the
reference data.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence

from tests.reference.clips import FOLDER
from tests.reference.motion_capture.captured import captured
from tests.reference.motion_capture.replayed import replayed
from tests.reference.stranger.clips import stranger
from training.evaluation.sources import SOURCES, run


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the tables."""
    try:
        captured()
    except FileNotFoundError:
        print(f"No reference data in {FOLDER}; set SWING_REFERENCE_DIR.", file=sys.stderr)
        return 2
    sources = {**SOURCES, "stranger": stranger, "replayed": replayed}
    return run(arguments, sources, "python -m tests.reference.left_out")


if __name__ == "__main__":
    sys.exit(main())
