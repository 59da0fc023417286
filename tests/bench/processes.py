"""CPU time and memory of a process with its children, and what others take of the machine."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import Final

_TICK: Final[float] = 1.0 / os.sysconf("SC_CLK_TCK")
_PAGE: Final[int] = os.sysconf("SC_PAGE_SIZE")


@dataclass(frozen=True)
class Tree:
    """A process and all that it started."""

    root: int

    def cpu_seconds(self) -> float:
        """User and system time so far; of children that have ended too."""
        return sum(_cpu(pid) for pid in self.pids())

    def first_thread_seconds(self) -> float:
        """Time of the first thread of the root alone: in a server, of its event loop."""
        spent = Path(f"/proc/{self.root}/task/{self.root}/schedstat").read_text().split()[0]
        return int(spent) / 1e9

    def resident_mib(self) -> float:
        """Memory held now, pages shared between processes counted once each (PSS)."""
        return sum(_proportional_kib(pid) for pid in self.pids()) / 1024

    def peak_mib(self) -> float:
        """Most memory that the root has held so far, shared pages included."""
        lines = Path(f"/proc/{self.root}/status").read_text().splitlines()
        return next(int(line.split()[1]) for line in lines if line.startswith("VmHWM:")) / 1024

    def pids(self) -> list[int]:
        """Those that run now, the root first."""
        found, children = [self.root], _children()
        for pid in found:
            found += children.get(pid, [])
        return found


def machine_busy_seconds() -> float:
    """CPU time that everything on the machine has used so far."""
    user, nice, system, _idle, _wait, irq, soft, steal = (
        int(n) for n in Path("/proc/stat").read_text().split("\n", 1)[0].split()[1:9]
    )
    return (user + nice + system + irq + soft + steal) * _TICK


def _fields(pid: int) -> list[str]:
    """Fields of ``/proc/PID/stat`` after the name, from the state on (proc(5), field 3)."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    except OSError:
        return []


def _cpu(pid: int) -> float:
    return sum(int(n) for n in _fields(pid)[11:15]) * _TICK


def _proportional_kib(pid: int) -> int:
    try:
        lines = Path(f"/proc/{pid}/smaps_rollup").read_text().splitlines()
    except OSError:
        return 0
    return next((int(line.split()[1]) for line in lines if line.startswith("Pss:")), 0)


def _children() -> dict[int, list[int]]:
    found: dict[int, list[int]] = {}
    for folder in Path("/proc").glob("[0-9]*"):
        pid = int(folder.name)
        if fields := _fields(pid):
            found.setdefault(int(fields[1]), []).append(pid)
    return found
