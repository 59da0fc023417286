"""Answers that the contract shows: ``python -m tests.contract.answers`` writes them anew.

A service with a database of its own is really asked, with the demonstration's invented player; its
answers are cut down to a few entries a list, and what differs from run to run (ids, moments, pace)
has stand-ins.
"""

from __future__ import annotations

import json
import re
import threading
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Final

from fastapi.testclient import TestClient

import service.api.docs
from service.api.docs.shown import FILE, key_of
from service.api.schemas.many.lines import to_line
from service.app import create_app
from service.demo import LESSON, clip_body
from service.records import Database
from service.settings import Settings
from service.use_cases.analyse import Analyser
from service.use_cases.batches.webhook import Sender
from service.use_cases.batches.work import Worker, WorkerSetup

_ENTRIES: Final[int] = 2
_ID: Final = re.compile(r"[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}")
_PACE: Final = re.compile(r'("per_second": ?)[\d.]+')
_MOMENT: Final = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(?:\.\d+)?Z")
_CURSOR: Final = re.compile(r'(?<="next_cursor": ")[^"]+')
_MANY: Final = "application/x-ndjson"
_NAMED: Final = {"X-Request-ID": "shown-in-the-contract"}
_READ: Final = (
    "/v1/players",
    "/v1/players/{player_id}",
    "/v1/players/{player_id}/lessons",
    "/v1/players/{player_id}/progress",
    "/v1/lessons/{lesson_id}",
    "/v1/lessons/{lesson_id}/recap",
    "/v1/swings",
    "/v1/swings/{swing_id}",
    "/v1/swings/{swing_id}/analysis",
    "/v1/swings/{swing_id}/analyses",
    "/v1/swings/{swing_id}/analyses/{number}",
    "/v1/summary?by=view",
)


def answers() -> dict[str, Any]:
    """By operation and status, what is answered."""
    with TemporaryDirectory() as folder:
        settings = Settings(database_url=f"sqlite:///{folder}/shown.db", batch_workers=0)
        app = create_app(settings)
        with TestClient(app, "http://127.0.0.1", headers=_NAMED) as client:
            asked = _Asking(client, app.state.records)
            for told in (_lessons(asked), _coach(asked), _batches(asked), _catalogue(asked)):
                for key, answer in told:
                    asked.told.setdefault(key, answer)
    shown = {key: _short(answer) for key, answer in sorted(asked.told.items())}
    # Of what is not shown, such as the audit, there is now more and now less.
    told: dict[str, Any] = json.loads(_steady(json.dumps(shown, ensure_ascii=False)))
    return told


class _Asking:
    """A client that remembers what is where."""

    def __init__(self, client: TestClient, database: Database) -> None:
        self.client = client
        self.database = database
        self.told: dict[str, Any] = {}
        self.at: dict[str, str] = {}

    def __call__(self, method: str, path: str, **sent: Any) -> tuple[str, Any]:
        """Ask for a path, ids in braces filled in; returns what it is shown under."""
        answer = self.client.request(method, path.format(**self.at), **sent)
        answer.raise_for_status()
        if answer.headers["content-type"].startswith(_MANY):
            body: Any = json.loads(answer.text.splitlines()[0])
        else:
            body = answer.json()
        return key_of(method, path.partition("?")[0], answer.status_code), body


def _lessons(ask: _Asking) -> Iterator[tuple[str, Any]]:
    swings = json.loads(clip_body(LESSON))["visits"][1]["swings"]
    face_on = [s for s in swings if s["request"]["view"] == "face_on"]
    yield from _kept(ask, face_on)
    changes = {"If-Match": "*"}
    yield ask("PATCH", "/v1/players/{player_id}", json={"note": "right knee"}, headers=changes)
    yield ask("PATCH", "/v1/lessons/{lesson_id}", json={"title": "First look"}, headers=changes)
    yield ask("PATCH", "/v1/swings/{swing_id}", json={"role": "after"}, headers=changes)
    for path in _READ:
        yield ask("GET", path)
    yield ask("POST", "/v1/swings/{swing_id}/reanalyse")
    lines = {"content": json.dumps(face_on[0]["request"]), "headers": {"Content-Type": _MANY}}
    yield ask("POST", "/v1/lessons/{lesson_id}/swings/batch", **lines)


def _kept(ask: _Asking, swings: list[dict[str, Any]]) -> Iterator[tuple[str, Any]]:
    """A player, a lesson and its swings, the first of which are held against the last."""
    created = ask("POST", "/v1/players", json={"name": "Ines Calder (invented)", "height_cm": 169})
    ask.at["player_id"] = created[1]["id"]
    yield created
    visit = {"date": "2025-05-20", "title": "Finishing the backswing with the turn"}
    created = ask("POST", "/v1/players/{player_id}/lessons", json=visit)
    ask.at["lesson_id"] = created[1]["id"]
    yield created
    kept = []
    for swing in swings:
        path = f"/v1/lessons/{{lesson_id}}/swings?role={swing['role']}"
        created = ask("POST", path, json=swing["request"])
        kept.append(created[1]["swing"]["id"])
        yield created
    ask.at["swing_id"], ask.at["number"] = kept[-1], "1"
    sides = {"before": kept[:1], "after": kept[-1:]}
    yield ask("POST", "/v1/comparisons", json=sides)


def _coach(ask: _Asking) -> Iterator[tuple[str, Any]]:
    path = "/v1/swings/{swing_id}/findings/{fault}/review"
    ask.at["fault"] = "trail_heel_kick"
    said = {"verdict": "confirm", "grade": "moderate", "reviewer": "Bo (invented)"}
    yield ask("PUT", path, json=said)
    yield ask("PUT", path, json=said | {"grade": "mild"}, headers={"If-Match": "*"})
    yield ask("GET", path)
    yield ask("GET", f"{path}/history")
    path = "/v1/lessons/{lesson_id}/recap/edits"
    words = {"fault": "trail_heel_kick", "work_on": "Keep the heel down until the ball is gone."}
    edits = {"keys": [words], "reviewer": "Bo (invented)"}
    yield ask("PUT", path, json=edits)
    yield ask("PUT", path, json=edits, headers={"If-Match": "*"})
    yield ask("GET", path)
    _, recap = ask("GET", "/v1/lessons/{lesson_id}/recap")
    approval = {"fingerprint": recap["standing"]["fingerprint"], "reviewer": "Bo (invented)"}
    yield ask("POST", "/v1/lessons/{lesson_id}/recap/approval", json=approval)
    yield ask("GET", "/v1/model/agreement")
    yield ask("GET", "/v1/audit")
    yield ask("GET", "/v1/audit/export")


def _batches(ask: _Asking) -> Iterator[tuple[str, Any]]:
    request = json.loads(clip_body("face_on"))
    lines = {"content": json.dumps(request), "headers": {"Content-Type": _MANY}}
    for _ in range(2):
        created = ask("POST", "/v1/batches", **lines)
        ask.at.setdefault("batch_id", created[1]["id"])
        yield created
    done, waiting = ask.at["batch_id"], created[1]["id"]
    ask.at["batch_id"] = waiting
    yield ask("POST", "/v1/batches/{batch_id}/cancel")
    ask.at["batch_id"] = done
    _work(ask.database)
    yield ask("GET", "/v1/batches")
    yield ask("GET", "/v1/batches/{batch_id}")
    yield ask("GET", "/v1/batches/{batch_id}/results")


def _catalogue(ask: _Asking) -> Iterator[tuple[str, Any]]:
    ask.at |= {"name": "trail_heel_kick", "shows": "trail_heel_kick"}
    for path in (
        "/v1/faults",
        "/v1/faults/{name}",
        "/v1/layouts",
        "/v1/model",
        "/v1/examples",
        "/v1/examples/{shows}",
        "/healthz",
        "/readyz",
        "/",
    ):
        yield ask("GET", path)


def _work(database: Database) -> None:
    """Work through what waits, in this process."""
    setup = WorkerSetup(
        database=database,
        analyser=lambda: Analyser.of(Settings()),
        told=to_line,
        sender=Sender(private=False),
        archive=None,
        lease=60.0,
        longest=10_000_000,
    )
    worker = Worker(setup)
    while worker.turn(threading.Event()):
        pass


def _steady(text: str) -> str:
    """Ids and moments in their order and a pace, in place of those of this run; cursors have ids
    in them."""
    text = _PACE.sub(r"\g<1>9.5", text)
    text = _CURSOR.sub("as-told-by-the-page-before", text)
    for number, each in enumerate(dict.fromkeys(_ID.findall(text)), start=1):
        text = text.replace(each, f"01970000-0000-7000-8000-{number:012x}")
    for number, each in enumerate(sorted(set(_MOMENT.findall(text)))):
        text = text.replace(each, f"2025-05-20T10:{number // 60:02d}:{number % 60:02d}Z")
    return text


def _short(value: Any, *, points: bool = False) -> Any:
    """The same with a few entries a list, the first that tells of a fault among them."""
    if isinstance(value, dict):
        told = {k: _short(v, points=k in ("keypoints", "club_points")) for k, v in value.items()}
        many = points or (len(told) > 10 and all(isinstance(v, float) for v in told.values()))
        return dict(list(told.items())[:_ENTRIES]) if many else told
    if not isinstance(value, list) or len(value) <= _ENTRIES:
        return [_short(v) for v in value] if isinstance(value, list) else value
    there = [n for n, v in enumerate(value) if isinstance(v, dict) and _tells(v)][:1]
    chosen = sorted({*there, *range(_ENTRIES - len(there))})
    return [_short(value[n]) for n in chosen]


def _tells(entry: dict[str, Any]) -> bool:
    return "present" in (entry.get("status"), entry.get("settled"))


if __name__ == "__main__":
    file = Path(service.api.docs.__file__).with_name(FILE)
    told = json.dumps(answers(), indent=1, ensure_ascii=False)
    file.write_text(f"{told}\n", encoding="utf-8")
    print(f"{file} ({file.stat().st_size} bytes)")
