"""The folder in which several processes count together."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from tempfile import TemporaryDirectory
from typing import Final

SHARED_FOLDER: Final[str] = "PROMETHEUS_MULTIPROC_DIR"
"""Its name in the environment; set before the client library is imported, which looks for it
then."""


@contextmanager
def counting_together() -> Iterator[None]:
    """Have this process and all that it starts count in one folder, which goes at the end."""
    with TemporaryDirectory(prefix="swing-metrics-") as folder:
        os.environ[SHARED_FOLDER] = folder
        try:
            yield
        finally:
            del os.environ[SHARED_FOLDER]
