"""Holes in answers: 500 on valid input, and what the contract left out."""

from __future__ import annotations

import json
from typing import Any, Final

import httpx

from service.demo import clip_body
from tests.attack.holes.served import ANALYSE, Code, served
from tests.attack.holes.state import foreign

_MANY_DIGITS: Final[str] = "9" * 4301
_NOBODY: Final[str] = "00000000-0000-7000-8000-00000000dead"


def errors(code: Code) -> str:
    """Input that was answered with 500, and starts that ended in a traceback."""
    with served(code) as server:
        told = {
            "a gap of 2.5 s": server.post(ANALYSE, _timed(gap=2.5))[0],
            "frames 1e-10 s apart": server.post(ANALYSE, _timed(apart=1e-10))[0],
            "4,301 digits in a path": _got(server.address, f"/analyses/{_MANY_DIGITS}"),
        }
        for file in server.files.glob("records.db*"):
            file.write_bytes(b"no database" * 4096)
        told["a file that has become corrupt"] = server.post("/v1/players", b'{"name": "N"}')[0]
    answers = ", ".join(f"{name}: {status}" for name, status in told.items())
    return f"{answers}; start with {foreign(code)}"


def _got(address: str, rest: str) -> str:
    return str(httpx.get(f"{address}/v1/swings/{_NOBODY}{rest}", timeout=60).status_code)


def _timed(gap: float = 0.0, apart: float | None = None) -> bytes:
    """The demonstration's clip with timestamps that have a gap, or hardly grow."""
    clip: dict[str, Any] = json.loads(clip_body("face_on"))
    frames = len(clip["keypoints"])
    fps = clip.pop("fps", 120.0)
    clip.pop("timestamps", None)
    spacing = 1.0 / fps if apart is None else apart
    late = int(0.9 * frames)
    clip["timestamps"] = [k * spacing + gap * (k >= late) for k in range(frames)]
    return json.dumps(clip).encode()


def contract(code: Code) -> str:
    """`Allow` on 405, days without bounds, confidences of just 0 or 1."""
    with served(code) as server, httpx.Client(base_url=server.address, timeout=60) as client:
        allow = client.delete(ANALYSE).headers.get("allow")
        told = client.get("/openapi.json").json()
        schemas = told["components"]["schemas"]
        sent = {name: schema for name, schema in schemas.items() if not name.endswith("Answer")}
        days = [
            schema
            for schema in _schemas([told["paths"], sent])
            if schema.get("format") == "date" and "pattern" not in schema
        ]
        sure = sum(
            value in (0, 1)
            for name in ("face_on", "down_the_line")
            for value in _confidences(
                client.post(ANALYSE, content=clip_body(name), headers=_JSON).json()
            )
        )
    return (
        f"Allow on 405: {allow}; {len(days)} days that may be sent without bounds; "
        f"{sure} confidences of just 0 or 1 in two answers"
    )


_JSON: Final[dict[str, str]] = {"Content-Type": "application/json"}


def _schemas(value: Any) -> list[dict[str, Any]]:
    if isinstance(value, dict):
        return [value, *(s for each in value.values() for s in _schemas(each))]
    return [s for each in value for s in _schemas(each)] if isinstance(value, list) else []


def _confidences(answer: Any) -> list[float]:
    return [
        schema["confidence"]
        for schema in _schemas(answer)
        if isinstance(schema.get("confidence"), int | float)
    ]
