from __future__ import annotations

import pytest

for extra in ("pyarrow", "distributed", "tqdm"):
    pytest.importorskip(extra, reason="the extra `archive` is not installed")
