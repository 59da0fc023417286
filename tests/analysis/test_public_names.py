from __future__ import annotations

import subprocess
import sys


def test_who_keeps_analyses_does_not_read_what_makes_them() -> None:
    found = (
        "import sys, service.records; "
        "print({'onnxruntime', 'scipy.linalg', 'service.analysis.analyse'} & {*sys.modules})"
    )
    told = subprocess.run([sys.executable, "-c", found], capture_output=True, text=True, check=True)
    assert told.stdout == "set()\n"
