"""What the service's own code calls, read off its text."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import service


def calls_of(name: str) -> Iterator[ast.Call]:
    """Every call in the service of a class or function by its bare name."""
    for path in Path(service.__file__).parent.rglob("*.py"):
        text = path.read_text(encoding="utf-8")
        for node in ast.walk(ast.parse(text)) if f"{name}(" in text else ():
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == name:
                yield node
