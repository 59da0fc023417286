"""Ports for the servers of tests, each given to one process alone."""

from __future__ import annotations

import fcntl
import random
import socket
from pathlib import Path
from tempfile import gettempdir
from typing import IO, Final

_PORTS: Final[range] = range(20_000, 32_000)
"""Below those that Linux gives to outgoing connections (32768 and up unless told otherwise)."""
_held: Final[list[IO[str]]] = []


def free_port() -> int:
    """A port that nobody listens on, kept from other tests for as long as this process lives.

    A port that the system gave, and that was let go for a server to take, may be given to somebody
    else before the server is up.
    """
    folder = Path(gettempdir()) / "swing-test-ports"
    folder.mkdir(exist_ok=True)
    for port in random.sample(_PORTS, len(_PORTS)):
        file = (folder / str(port)).open("w")
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
            with socket.socket() as probe:
                probe.bind(("127.0.0.1", port))
        except OSError:
            file.close()
            continue
        _held.append(file)
        return port
    raise RuntimeError("every port is taken")
