"""Statements of one version of the code, recorded, to be made again on the tables of a later one.

``python -m tests.records.recorded URL FILE`` records those of the present version on an empty
database. Every use of the records is made over HTTP in three phases: what is written, what is read,
what is deleted.
"""

from __future__ import annotations

import base64
import gzip
import hashlib
import json
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import date, datetime
from pathlib import Path
from typing import Any, Final
from uuid import UUID

from fastapi.testclient import TestClient
from psycopg import Binary
from sqlalchemy import Connection, CursorResult, Engine, event

from service.app import create_app
from service.records import upgrade
from service.settings import Settings
from tests.records.kept import swing_body

DATA: Final = Path(__file__).parents[1] / "data"
PHASES: Final = ("write", "read", "delete")
PLAYER: Final[str] = "Ida Invented"
_ROWS: Final = ("SELECT", "INSERT", "UPDATE", "DELETE", "WITH")
_JSON: Final = {"Content-Type": "application/json"}

Statement = dict[str, Any]


def load(version: str, dialect: str) -> dict[str, list[Statement]]:
    """The statements of a version by phase."""
    file = DATA / f"statements_{version}.{dialect}.json.gz"
    phases: dict[str, list[Statement]] = json.loads(gzip.decompress(file.read_bytes()))
    return phases


def replay(connection: Connection, statements: list[Statement], same_rows: bool) -> int:
    """Make statements again; the number made.

    Parameters
    ----------
    same_rows
        Whether what is read must be what was read then.
    """
    for each in statements:
        result = _made(connection, each)
        if result.returns_rows:
            rows = _digest([tuple(row) for row in result.all()])
            assert not same_rows or rows == each["rows"], each["statement"]
    return len(statements)


def record(url: str) -> dict[str, list[Statement]]:
    """Make every use of the records and keep the statements that came of it."""
    app = create_app(Settings(database_url=url))
    upgrade(app.state.records)
    phases: dict[str, list[Statement]] = {}
    with TestClient(app) as client:
        made: dict[str, str] = {}
        for phase, work in zip(PHASES, (_write, _read, _delete), strict=True):
            with _recorded(app.state.records._engine) as statements:
                work(client, made)
            phases[phase] = statements
    return phases


def _write(client: TestClient, made: dict[str, str]) -> None:
    def send(path: str, **sent: Any) -> dict[str, Any]:
        answer = client.post(path, **sent)
        assert answer.status_code in (200, 201), answer.text
        told: dict[str, Any] = answer.json()
        return told

    key = {"Idempotency-Key": "once"}
    made["player"] = send("/v1/players", json={"name": PLAYER}, headers=key)["id"]
    send("/v1/players", json={"name": PLAYER}, headers=key)
    path = f"/v1/players/{made['player']}"
    _changed(client, path, {"note": "invented", "handedness": "right"})
    for n in (1, 2):
        lesson = send(f"{path}/lessons", json={"date": f"2025-05-1{n}"}, headers=_key(f"l{n}"))
        made[f"lesson {n}"] = lesson["id"]
        for m, role in enumerate(("before", "after")):
            place = f"/v1/lessons/{lesson['id']}/swings?role={role}"
            headers = {**_JSON, **_key(f"s{n}{m}")}
            made[f"swing {n}{m}"] = send(place, content=swing_body(n), headers=headers)["swing"][
                "id"
            ]
    _changed(client, f"/v1/lessons/{made['lesson 1']}", {"coach_note": "invented"})
    _changed(client, f"/v1/swings/{made['swing 10']}", {"role": "other", "club": "driver"})
    send(f"/v1/swings/{made['swing 11']}/reanalyse", headers=_key("again"))


def _read(client: TestClient, made: dict[str, str]) -> None:
    player, lesson = f"/v1/players/{made['player']}", f"/v1/lessons/{made['lesson 2']}"
    swing = f"/v1/swings/{made['swing 11']}"
    for path in (
        "/v1/players",
        "/v1/players?name=invented",
        player,
        f"{player}/lessons",
        f"{player}/progress",
        f"{player}/export",
        lesson,
        f"{lesson}/recap",
        "/v1/swings",
        f"/v1/swings?player_id={made['player']}&limit=2",
        "/v1/swings?fault=long_backswing&status=absent",
        "/v1/swings?view=face_on&club=driver",
        swing,
        f"{swing}/analysis",
        f"{swing}/analyses",
        f"{swing}/analyses/1",
        f"{swing}/frames/4.svg",
    ):
        answer = client.get(path)
        assert answer.status_code == 200, (path, answer.text)
    both = {"before": [made["swing 20"]], "after": [made["swing 21"]]}
    assert client.post("/v1/comparisons", json=both).status_code == 200


def _delete(client: TestClient, made: dict[str, str]) -> None:
    for path in ("swings/" + made["swing 21"], "lessons/" + made["lesson 2"]):
        assert client.delete(f"/v1/{path}").status_code == 204
    assert client.delete(f"/v1/players/{made['player']}").status_code == 204


def _changed(client: TestClient, path: str, changes: Mapping[str, Any]) -> None:
    etag = client.get(path).headers["etag"]
    answer = client.patch(path, json=changes, headers={"If-Match": etag})
    assert answer.status_code == 200, answer.text


def _key(key: str) -> dict[str, str]:
    return {"Idempotency-Key": key}


@contextmanager
def _recorded(engine: Engine) -> Iterator[list[Statement]]:
    statements: list[Statement] = []

    def note(_c: Any, _k: Any, statement: str, parameters: Any, _x: Any, many: bool) -> None:
        parameters = parameters if many else [parameters]
        if statement.startswith(_ROWS) and "alembic_version" not in statement:
            statements.append({"statement": statement, "parameters": _encoded(parameters)})

    event.listen(engine, "before_cursor_execute", note)
    try:
        yield statements
    finally:
        event.remove(engine, "before_cursor_execute", note)


def add_rows(connection: Connection, statements: list[Statement]) -> None:
    """Make statements anew and put down a digest of what each read."""
    for each in statements:
        result = _made(connection, each)
        if result.returns_rows:
            each["rows"] = _digest([tuple(row) for row in result.all()])


def _made(connection: Connection, statement: Statement) -> CursorResult[Any]:
    sets = [_decoded(each) for each in statement["parameters"]]
    return connection.exec_driver_sql(statement["statement"], sets if len(sets) > 1 else sets[0])


def _digest(rows: list[tuple[Any, ...]]) -> str:
    told = sorted(json.dumps(_encoded(row)) for row in rows)
    return hashlib.sha256("\n".join(told).encode()).hexdigest()[:16]


def _encoded(value: Any) -> Any:
    match value:
        case dict():
            return {name: _encoded(each) for name, each in value.items()}
        case list() | tuple():
            return [_encoded(each) for each in value]
        case bytes() | memoryview():
            return {"bytes": base64.b64encode(bytes(value)).decode()}
        case datetime():
            return {"moment": value.isoformat()}
        case date():
            return {"day": value.isoformat()}
        case Binary():
            return _encoded(value.obj)
        case UUID():
            return str(value)
        case str() | int() | float() | None:
            return value
        case _:
            raise TypeError(f"a parameter of the type {type(value)}")


def _decoded(value: Any) -> Any:
    """Parameters as the driver takes them: a tuple or a dict of single values."""
    if isinstance(value, list):
        return tuple(_decoded(each) for each in value)
    if not isinstance(value, dict):
        return value
    match value:
        case {"bytes": str(told), **rest} if not rest:
            return base64.b64decode(told)
        case {"moment": str(told), **rest} if not rest:
            return datetime.fromisoformat(told)
        case {"day": str(told), **rest} if not rest:
            return date.fromisoformat(told)
    return {name: _decoded(each) for name, each in value.items()}


def main() -> None:
    """Record; then make all again on the same tables, emptied, for what each reads."""
    from service.records import Database

    url, file = sys.argv[1:]
    phases = record(url)
    database = Database(url)
    for phase in PHASES:
        with database.connected() as connection:
            add_rows(connection, phases[phase])
    database.close()
    packed = gzip.compress(json.dumps(phases).encode(), 9, mtime=0)
    Path(file).write_bytes(packed)
    print(file, len(packed), {phase: len(s) for phase, s in phases.items()})


if __name__ == "__main__":
    main()
