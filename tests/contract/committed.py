"""The contract as it is kept, which takes no time to make; a test holds it against the service."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from service.contract import CONTRACT

FOLDER = Path(__file__).parents[2] / "openapi"


def committed_contract() -> dict[str, Any]:
    """The contract of ``openapi/``."""
    told: dict[str, Any] = json.loads((FOLDER / CONTRACT).read_text(encoding="utf-8"))
    return told
