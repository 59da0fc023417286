"""An archive to change."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.archive.planning.changed import make


@pytest.fixture
def archive(tmp_path: Path) -> Path:
    return make(tmp_path / "archive")
