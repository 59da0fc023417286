"""Nothing leaves the process but answers, and nothing is written outside the service's folders."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]

WATCHED = """
import sys, threading, time

opened, written = [], []

def watch(event, args):
    if event in ("socket.connect", "socket.getaddrinfo", "socket.gethostbyname", "socket.sendto"):
        opened.append((event, args[1:]))
    writes = event == "open" and isinstance(args[2], int) and args[2] & 0o3103  # write, create, ...
    if writes and args[0] != os.devnull:
        written.append(args[0])

sys.addaudithook(watch)
{work}
time.sleep(3)  # a collector is looked up from a thread of its own
sockets = [link for link in map(read, descriptors()) if link.startswith("socket:")]
print("sockets", sockets, "events", opened, "written", written)
assert not sockets and not opened and not written, "something was opened"
"""
HELPERS = """
import os
def descriptors():
    return [f"/proc/self/fd/{n}" for n in os.listdir("/proc/self/fd")]
def read(path):
    try:
        return os.readlink(path)
    except OSError:
        return ""
"""
_SERVICE = """
import gzip
from pathlib import Path
from service.analysis.judging.classifier import Classifier
from service.analysis.analyse import analyse
from service.demo import clip_body
from service.intake.recording import Limits, to_recording
from service.intake.request import read_request
model = Classifier.load(Path("models"))
analyse(to_recording(read_request(clip_body("face_on")), Limits(12, 5000)), model)
"""
_TRAINING = "import training.models.to_onnx, training.models.fit, training.simulator\n"


@pytest.mark.skipif(not Path("/proc/self/fd").is_dir(), reason="no /proc to look into")
@pytest.mark.parametrize("work", [_SERVICE, _TRAINING], ids=["service", "training"])
def test_no_socket_is_opened_and_no_file_written_by_the_models(tmp_path: Path, work: str) -> None:
    home, scratch = tmp_path / "home", tmp_path / "scratch"
    home.mkdir()
    scratch.mkdir()
    environment = {
        **{k: v for k, v in os.environ.items() if not k.startswith(("XDG_", "ORT_"))},
        "HOME": str(home),
        "TMPDIR": str(scratch),
        "PYTHONDONTWRITEBYTECODE": "1",
        "MPLCONFIGDIR": str(scratch),
        "PYTHONPATH": str(ROOT),
    }
    script = HELPERS + WATCHED.format(work=work)
    ran = subprocess.run(
        [sys.executable, "-c", script], cwd=ROOT, env=environment, capture_output=True, text=True
    )
    assert ran.returncode == 0, ran.stdout + ran.stderr
    assert list(home.rglob("*")) == []


@pytest.mark.skipif(not Path("/proc/self/fd").is_dir(), reason="no /proc to look into")
def test_the_watch_sees_what_the_model_runtime_does_when_let(tmp_path: Path) -> None:
    """Without this the test above could pass for want of anything to see."""
    environment = {k: v for k, v in os.environ.items() if not k.startswith(("XDG_", "ORT_"))}
    environment["HOME"] = str(tmp_path)
    subprocess.run([sys.executable, "-c", "import onnxruntime"], env=environment, check=True)
    if not list(tmp_path.rglob("*")):
        pytest.skip("the installed model runtime writes nothing even when let")
