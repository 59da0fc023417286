"""The academy of whoever comes without a key, and of all that was kept before there were any."""

from __future__ import annotations

from typing import Final

DEFAULT_ACADEMY: Final[str] = "00000000-0000-7000-8000-000000000001"
