"""What two processes gain on this machine, whatever runs them: ``... tests.bench.archive.ceiling``.

Work of one kind, in one process and in two at once by turns, with no engine between: plain Python,
arrays that stay in the cache, arrays larger than it, fresh memory, an ONNX network, and the
analysis of swings as they lie in memory. What two processes of the analysis alone don't gain, no
engine will. Where a piece of work costs more processor time when both are at it, they take from
one another: memory, the cache, or a core that is half of one.
"""

from __future__ import annotations

import json
import os
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from multiprocessing import get_context
from multiprocessing.connection import Connection
from multiprocessing.synchronize import Barrier
from typing import Final

import numpy as np
from scipy.signal import butter, sosfiltfilt

from service.analysis.events.positions.network import network
from service.intake.recording import read_clip
from service.settings import Settings
from service.use_cases.analyse import Analyser
from tests.bench.archive.made import FRAMES, requests

SECONDS = 1.0
ROUNDS = 2
SWINGS = 64
"""As many as a worker analyses together."""
CACHED = (FRAMES, 17 * 3)
LARGE = 1 << 22
"""Numbers, of 8 bytes each."""

Work = Callable[[], object]


@dataclass(frozen=True)
class Gain:
    """What two at once did in the time of one, and the processor time of each piece likewise."""

    rate: float
    cost: float

    def __str__(self) -> str:
        return f"two do {self.rate:.2f} times as much as one, at {self.cost:.2f} times the cost"


def _python() -> Work:
    words = [f"word {number % 97}" for number in range(20_000)]

    def count() -> None:
        counts: dict[str, int] = {}
        for word in words:
            counts[word] = counts.get(word, 0) + 1

    return count


def _cached_arrays() -> Work:
    values = np.random.default_rng(1).normal(size=CACHED)
    sections = butter(4, 0.2, output="sos")
    return lambda: sosfiltfilt(sections, values, axis=0)


def _large_arrays() -> Work:
    values, other = np.ones(LARGE), np.ones(LARGE)
    return lambda: np.multiply(values, 1.5, out=other)


def _fresh_memory() -> Work:
    return lambda: np.ones(LARGE)


def _onnx() -> Work:
    session = network().session
    shapes = {each.name: [SWINGS, *each.shape[1:]] for each in session.get_inputs()}
    zeros = {name: np.zeros(shape, np.float32) for name, shape in shapes.items()}
    return lambda: session.run(None, zeros)


def _analysis() -> Work:
    analyser = Analyser.of(Settings(database_url=""))
    texts = (json.dumps(each).encode() for each in requests(SWINGS))
    recordings = [read_clip(text, analyser.limits)[0] for text in texts]
    return lambda: analyser.analyse_many(recordings)


KINDS: Final[Mapping[str, Callable[[], Work]]] = {
    "plain Python": _python,
    "arrays in the cache": _cached_arrays,
    "arrays larger than it": _large_arrays,
    "fresh memory": _fresh_memory,
    "an ONNX network": _onnx,
    "the analysis alone": _analysis,
}


def gains(cores: tuple[int, ...]) -> dict[str, Gain]:
    """What two processes gain at each kind of work, each on a core of its own."""
    spawn = get_context("spawn")
    together = spawn.Barrier(len(cores))
    ends = [spawn.Pipe() for _ in cores]
    started = [
        spawn.Process(target=_take_part, args=(number, core, together, there))
        for number, (core, (_, there)) in enumerate(zip(cores, ends, strict=True))
    ]
    for process in started:
        process.start()
    told = [here.recv() for here, _ in ends]
    for process in started:
        process.join()
    return {kind: _gain(*(each[kind] for each in told)) for kind in KINDS}


Round = tuple[float, float]
"""Pieces a second, and seconds of processor time for one."""


def _gain(first: list[Round], second: list[Round]) -> Gain:
    """Of the rounds of the first alone and with the other, by turns, and of the other's."""
    alone, together = first[::2], first[1::2]
    rate = max(one for one, _ in alone)
    both = max(one + other for (one, _), (other, _) in zip(together, second, strict=True))
    cost = min(cost for _, cost in together) / min(cost for _, cost in alone)
    return Gain(both / rate, cost)


def _take_part(number: int, core: int, together: Barrier, told: Connection) -> None:
    os.sched_setaffinity(0, {core})
    found: dict[str, list[Round]] = {}
    for kind, begin in KINDS.items():
        work, rounds = begin(), found.setdefault(kind, [])
        work()
        for _ in range(ROUNDS):
            together.wait()
            if number == 0:
                rounds.append(_timed(work))
            together.wait()
            rounds.append(_timed(work))
    told.send(found)


def _timed(work: Work) -> Round:
    begin, spent, count = time.perf_counter(), time.process_time(), 0
    while (took := time.perf_counter() - begin) < SECONDS:
        work()
        count += 1
    return count / took, (time.process_time() - spent) / count


def two_cores() -> tuple[int, ...]:
    """Two that are no halves of one, where the machine tells and has such."""
    allowed = sorted(os.sched_getaffinity(0))
    whole = {_halves_of(core): core for core in reversed(allowed)}
    chosen = sorted(whole.values())[:2]
    return tuple(chosen if len(chosen) > 1 else allowed[:2])


def _halves_of(core: int) -> str:
    try:
        with open(f"/sys/devices/system/cpu/cpu{core}/topology/thread_siblings_list") as file:
            return file.read()
    except OSError:
        return str(core)


def main() -> None:
    """Print a line a kind."""
    for kind, gain in gains(two_cores()).items():
        print(f"{kind:21s} {gain}", flush=True)


if __name__ == "__main__":
    main()
