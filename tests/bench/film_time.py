"""Time a frame and memory of the film command: ``python -m tests.bench.film_time FILM``.

Each frame is decoded, looked at by the pose model and decoded once more for the page. FILM is
analysed as it is, then made into films as a phone takes them, 1080 by 1920 at 60 frames a
second, of 2.5, 5 and 10 seconds, over and over. Each analysis is a process of its own, so that its
peak of memory is its own.
"""

from __future__ import annotations

import itertools
import resource
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

import av
import numpy as np

from service.film.command import FilmOrder, analyse_films
from service.film.container import frames_of, look_into
from service.settings import Settings
from service.use_cases.analyse import Analyser

WIDTH, HEIGHT, FPS = 1080, 1920, 60
LENGTHS = (2.5, 5.0, 10.0)
PERSON = 0.36
"""Share of the width at which the person of the demonstration film stands."""


def main(film: Path) -> None:
    """Print one line a film."""
    print(f"{'film':<28}{'frames':>8}{'seconds':>9}{'ms a frame':>12}{'of CPU':>8}{'peak MB':>9}")
    with TemporaryDirectory() as folder:
        print(_in_its_own_process(film, folder), flush=True)
        for length in LENGTHS:
            path = Path(folder) / f"phone_{length:g}s.mp4"
            _write(film, path, round(length * FPS))
            print(_in_its_own_process(path, folder), flush=True)


def _in_its_own_process(film: Path, folder: str) -> str:
    command = [sys.executable, "-m", "tests.bench.film_time", str(film), folder]
    return subprocess.run(command, capture_output=True, text=True, check=True).stdout.rstrip()


def analyse_one(film: Path, out: Path) -> None:
    """Analyse a film as the command does and print its line."""
    analyser = Analyser.of(Settings())
    start, before = time.perf_counter(), time.process_time()
    (result,) = analyse_films(FilmOrder([film], out), analyser)
    seconds = time.perf_counter() - start
    assert result.clip is not None, result.failure
    n_frames = len(result.clip.recording.times)
    each, worked = (1000 * t / n_frames for t in (seconds, time.process_time() - before))
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    found = "swing" if result.clip.analysis.swing_found else "no swing"
    name = f"{film.name} ({found})"
    print(f"{name:<28}{n_frames:>8}{seconds:>9.1f}{each:>12.1f}{worked:>8.1f}{peak:>9.0f}")


def _write(film: Path, path: Path, n_frames: int) -> None:
    """A film of the person in another, again from its beginning as often as needed."""
    with av.open(str(path), "w") as container:
        stream = container.add_stream("libx264", rate=FPS, options={"preset": "ultrafast"})
        stream.width, stream.height, stream.pix_fmt = WIDTH, HEIGHT, "yuv420p"
        for image in itertools.islice(_pictures(film), n_frames):
            frame = av.VideoFrame.from_ndarray(image, format="rgb24")
            container.mux(stream.encode(frame.reformat(WIDTH, HEIGHT, "yuv420p")))
        container.mux(stream.encode(None))


def _pictures(path: Path) -> Iterator[np.ndarray]:
    film = look_into(path)
    width = film.height * WIDTH // HEIGHT
    left = max(round(PERSON * film.width - width / 2), 0)
    while True:
        for frame in frames_of(film):
            yield np.ascontiguousarray(frame.image[:, left : left + width])


if __name__ == "__main__":
    if len(sys.argv) == 3:
        analyse_one(Path(sys.argv[1]), Path(sys.argv[2]))
    else:
        main(Path(sys.argv[1]))
