"""Two academies with keys: neither gets at anything of the other's, by whatever route."""

from __future__ import annotations

import os
from collections.abc import Iterator
from typing import Any

import pytest
from fastapi.testclient import TestClient
from sqlalchemy import event, exc, make_url, text

from service.api.access.scopes import PUBLIC
from service.records import Behalf, Database, RecordNotFound, SwingFilter, Window
from service.records.access import academies, sessions
from service.records.access.keys import KeyScope
from service.records.connection.readiness import DatabaseProbe
from service.records.keeping import players, swings
from service.records.tables import Base, LessonRow, OfAcademy, PlayerRow, SwingRow
from tests.attack.two_academies.academies import (
    JSON,
    Told,
    guarded_operations,
    keyed_service,
    make_academy,
    make_key,
)
from tests.attack.two_academies.tries import NOTHING, TRIES, filled
from tests.conftest import POSTGRES
from tests.records.kept import still_body

OPERATIONS = guarded_operations()
NAMES = [f"{method} {path}" for method, path, _ in OPERATIONS]


@pytest.fixture(scope="module")
def client(keyed_url: str) -> Iterator[TestClient]:
    with keyed_service(keyed_url) as client:
        yield client


@pytest.fixture(scope="module")
def theirs(client: TestClient) -> Told:
    return make_academy(client, "theirs")


@pytest.fixture(scope="module")
def ours(client: TestClient) -> Told:
    return make_academy(client, "ours")


def _ask(
    client: TestClient, method: str, path: str, ids: dict[str, str], headers: dict[str, str]
) -> Any:
    attempt = TRIES[method, path]
    sent = attempt.body(ids)
    sent["headers"] = {**sent.get("headers", {}), **headers}
    return client.request(method, filled(path, ids), params=attempt.query(ids), **sent)


def test_there_is_a_try_for_every_operation_that_takes_a_key_and_for_no_other() -> None:
    assert {(method, path) for method, path, _ in OPERATIONS} == set(TRIES)


def test_whatever_is_open_without_a_key_is_on_the_list(client: TestClient) -> None:
    guarded = {path for _, path, _ in OPERATIONS}
    assert not guarded & PUBLIC
    assert set(client.get("/openapi.json").json()["paths"]) <= guarded | PUBLIC


@pytest.mark.parametrize(("method", "path", "scope"), OPERATIONS, ids=NAMES)
def test_nothing_of_the_other_academy_is_told_changed_or_known_to_exist(
    client: TestClient, theirs: Told, ours: Told, method: str, path: str, scope: str
) -> None:
    before = _everything(client, theirs)
    answer = _ask(client, method, path, theirs.ids, ours.headers)
    assert answer.status_code == TRIES[method, path].status, answer.text
    told = answer.text + str(answer.headers)
    for sent in (answer.json().get("instance", ""),) if answer.status_code == 404 else ():
        told = told.replace(sent, "")
    assert not [secret for secret in theirs.secrets() if secret in told]
    if answer.status_code == 404:
        nowhere = dict.fromkeys(theirs.ids, NOTHING)
        unknown = _ask(client, method, path, nowhere, ours.headers)
        assert _without_place(unknown) == _without_place(answer), "as if there were nothing"
    assert _everything(client, theirs) == before


def _without_place(answer: Any) -> tuple[int, dict[str, Any]]:
    return answer.status_code, answer.json() | {"instance": ""}


def _everything(client: TestClient, told: Told) -> list[str]:
    """All that an academy sees of its own, but for the audit."""
    ids = told.ids
    paths = (
        "/v1/players",
        "/v1/swings",
        f"/v1/players/{ids['player']}/lessons",
        f"/v1/swings/{ids['swing']}/analyses",
        "/v1/batches",
    )
    answers = [client.get(path, headers=told.headers) for path in paths]
    assert [a.status_code for a in answers] == [200] * len(paths)
    return [a.text for a in answers]


@pytest.mark.parametrize(("method", "path", "scope"), OPERATIONS, ids=NAMES)
def test_an_operation_is_shut_without_a_key_and_with_every_scope_but_its_own(
    client: TestClient, ours: Told, method: str, path: str, scope: str
) -> None:
    nowhere = dict.fromkeys(ours.ids, NOTHING)
    without = _ask(client, method, path, nowhere, {})
    assert without.status_code == 401, without.text
    assert without.headers["www-authenticate"].startswith("Bearer")
    others = make_key(client, ours.academy_id, set(KeyScope) - {KeyScope(scope)})
    lacking = _ask(client, method, path, nowhere, {"Authorization": f"Bearer {others}"})
    assert lacking.status_code == 403, lacking.text
    assert f"`{scope}`" in lacking.json()["detail"]
    alone = make_key(client, ours.academy_id, {KeyScope(scope)})
    let_in = _ask(client, method, path, nowhere, {"Authorization": f"Bearer {alone}"})
    assert let_in.status_code == TRIES[method, path].status, let_in.text


def test_each_sees_its_own(client: TestClient, theirs: Told, ours: Told) -> None:
    for told in (theirs, ours):
        for path in (f"/v1/swings/{told.ids['swing']}", f"/v1/lessons/{told.ids['lesson']}/recap"):
            assert client.get(path, headers=told.headers).status_code == 200
        listed = client.get("/v1/swings", headers=told.headers).json()["items"]
        assert told.ids["swing"] in [swing["id"] for swing in listed]


def test_the_same_idempotency_key_is_each_academys_own(
    client: TestClient, theirs: Told, ours: Told
) -> None:
    assert theirs.ids["player"] != ours.ids["player"], "both were made with one key"
    names = []
    for told in (theirs, ours):
        headers = told.headers | {"Idempotency-Key": "the-same-for-everybody"}
        again = client.post("/v1/players", json={"name": "x"}, headers=headers)
        assert again.status_code == 422, "it was used for another request"
        names.append(again.text)
    assert names[0] == names[1]


def test_the_others_reviews_count_for_nothing(client: TestClient, theirs: Told) -> None:
    third = make_academy(client, f"third-{theirs.academy_id[-4:]}")
    records: Database = client.app.state.records
    with records.writing() as session:
        empty = academies.add(session, f"empty-{theirs.academy_id[-4:]}")
    header = {"Authorization": f"Bearer {make_key(client, empty.id)}"}
    of_nobody = client.get("/v1/model/agreement", headers=header).text
    reviewed = client.get("/v1/model/agreement", headers=third.headers).text
    path = f"/v1/swings/{third.ids['swing']}/findings/long_backswing/review"
    sent = {"params": {"reviewer": "somebody"}, "headers": third.headers | {"If-Match": "*"}}
    assert client.delete(path, **sent).status_code == 204
    withdrawn = client.get("/v1/model/agreement", headers=third.headers).text
    assert (reviewed != withdrawn, withdrawn) == (True, of_nobody)


def test_a_cursor_leads_nobody_into_the_other_list(
    client: TestClient, theirs: Told, ours: Told
) -> None:
    for _ in range(2):
        sent = {"content": still_body(), "headers": theirs.headers | JSON}
        path = f"/v1/lessons/{theirs.ids['lesson']}/swings"
        assert client.post(path, **sent).status_code == 201
    page = client.get("/v1/swings", params={"limit": 1}, headers=theirs.headers).json()
    query = {"limit": 1, "cursor": page["next_cursor"]}
    items = client.get("/v1/swings", params=query, headers=ours.headers).json()["items"]
    assert {item["lesson_id"] for item in items} <= {ours.ids["lesson"]}


def test_every_table_belongs_to_academies_or_is_known_not_to() -> None:
    owned = {row.__tablename__ for row in OfAcademy.__subclasses__()}
    assert set(Base.metadata.tables) - owned == {"academy", "api_key", "allowance", "compatibility"}


def test_a_statement_that_can_not_be_kept_to_one_academy_is_refused(client: TestClient) -> None:
    records: Database = client.app.state.records
    with records.reading() as session, pytest.raises(TypeError, match="one academy"):
        session.execute(text("SELECT * FROM player"))
    with records.reading() as session, pytest.raises(TypeError, match="one academy"):
        session.execute(PlayerRow.__table__.select())


def test_postgresql_alone_keeps_them_apart(
    client: TestClient, keyed_url: str, theirs: Told, ours: Told
) -> None:
    if keyed_url.startswith("sqlite"):
        pytest.skip("SQLite has no row-level security: there the queries alone decide")
    records: Database = client.app.state.records.on_behalf(Behalf(ours.academy_id))
    event.remove(sessions.AcademySession, "do_orm_execute", sessions._only_its_rows)
    try:
        with records.reading() as session:
            with pytest.raises(RecordNotFound):
                players.get(session, theirs.ids["player"])
            page = swings.fetch_page(session, SwingFilter(), Window(100))
            assert {swing.lesson_id for swing in page.items} == {ours.ids["lesson"]}
    finally:
        event.listen(sessions.AcademySession, "do_orm_execute", sessions._only_its_rows)


def test_readiness_tells_whether_row_level_security_binds_the_role(
    client: TestClient, keyed_url: str
) -> None:
    assert DatabaseProbe(keyed_url)() == "can be read and written"
    if keyed_url.startswith("postgresql"):
        superuser = DatabaseProbe(
            make_url(os.environ[POSTGRES])
            .set(database=make_url(keyed_url).database)
            .render_as_string(hide_password=False)
        )
        assert "row-level security does not bind its role" in superuser()


def test_postgresql_takes_no_row_for_another_academy(
    client: TestClient, keyed_url: str, theirs: Told, ours: Told
) -> None:
    if keyed_url.startswith("sqlite"):
        pytest.skip("SQLite has no row-level security: there the queries alone decide")
    records: Database = client.app.state.records.on_behalf(Behalf(ours.academy_id))
    with records.reading() as session:
        connection = session.connection()
        for row in (PlayerRow, LessonRow, SwingRow):
            moved = f"UPDATE {row.__tablename__} SET academy_id = '{theirs.academy_id}'"
            with pytest.raises(exc.ProgrammingError, match="row-level security"):
                connection.execute(text(moved))
            session.rollback()
            connection = session.connection()
    names = ", ".join(f"'{row.__tablename__}'" for row in OfAcademy.__subclasses__())
    with records.connected() as connection:
        unsealed = connection.scalars(
            text(
                f"SELECT relname FROM pg_class WHERE relname IN ({names}) "
                "AND relkind = 'r' AND NOT (relrowsecurity AND relforcerowsecurity)"
            )
        ).all()
    assert unsealed == []
