from __future__ import annotations

from pathlib import Path

import pytest

for extra in ("pyarrow", "distributed", "tqdm"):
    pytest.importorskip(extra, reason="the extra `archive` is not installed")

from tests.archive.made import small_archive, tag  # noqa: E402 - needs the extra


@pytest.fixture(scope="module")
def archive(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A small archive, for the tests of one module."""
    return small_archive(tmp_path_factory.mktemp("archive"))


@pytest.fixture(scope="module")
def results(archive: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """What tagging it gives."""
    return tag(archive, tmp_path_factory.mktemp("results") / "out", partition=2)
