from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.contract.serving import serving


@pytest.fixture(scope="session")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Address of a real server that keeps records."""
    with serving(tmp_path_factory.mktemp("served")) as address:
        yield address
