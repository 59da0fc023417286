"""Old code and new code work on one database while a new version is rolled out."""

from __future__ import annotations

import pytest
from alembic.runtime.migration import MigrationContext
from fastapi.testclient import TestClient
from sqlalchemy import make_url, text

from service.app import create_app
from service.records import Database, upgrade
from service.records.connection.readiness import DatabaseProbe
from service.records.errors import ForeignDatabase
from service.settings import Settings
from tests.records.recorded import PLAYER, load, replay

OLD = "0003"
"""Version of the tables whose code is served beside the present one."""


def test_the_statements_of_the_old_code_work_before_and_after_the_tables_change(
    empty_database_url: str,
) -> None:
    old = load(OLD, make_url(empty_database_url).get_backend_name())
    database = Database(empty_database_url)
    upgrade(database, OLD)
    with database.connected() as connection:
        assert replay(connection, old["write"], same_rows=True) > 40
    upgrade(database)
    with database.connected() as connection:
        assert replay(connection, old["read"], same_rows=True) > 20
    _new_code_works_on_it(empty_database_url)
    with database.connected() as connection:
        replay(connection, old["read"], same_rows=False)
        replay(connection, old["delete"], same_rows=False)
    with TestClient(create_app(Settings(database_url=empty_database_url))) as new:
        assert [p["name"] for p in new.get("/v1/players").json()["items"]] == ["Somebody Else"]
    database.close()


def test_the_old_code_writes_into_the_new_tables(database_url: str) -> None:
    old = load(OLD, make_url(database_url).get_backend_name())
    database = Database(database_url)
    with database.connected() as connection:
        replay(connection, old["write"], same_rows=True)
    _new_code_works_on_it(database_url)
    database.close()


def _new_code_works_on_it(url: str) -> None:
    with TestClient(create_app(Settings(database_url=url))) as new:
        (player,) = new.get("/v1/players").json()["items"]
        assert player["name"] == PLAYER
        swings = new.get("/v1/swings").json()["items"]
        assert len(swings) == 4
        for swing in swings:
            found = new.get(f"/v1/swings/{swing['id']}/analysis")
            assert found.json()["swing_found"], found.text
        again = new.post(f"/v1/swings/{swings[0]['id']}/reanalyse")
        assert again.status_code == 201, again.text
        assert new.get(f"/v1/players/{player['id']}/export").status_code == 200
        assert new.post("/v1/players", json={"name": "Somebody Else"}).status_code == 201


def _brought_on(database: Database, oldest: str) -> None:
    """As a later version leaves it, with which code from ``oldest`` on can work."""
    with database.connected() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = '9999'"))
        connection.execute(text("UPDATE compatibility SET oldest = :oldest"), {"oldest": oldest})


def test_code_starts_and_is_ready_on_a_later_database_that_says_it_may(
    database: Database, database_url: str
) -> None:
    _brought_on(database, "0001")
    upgrade(database)
    with database.connected() as connection:
        assert MigrationContext.configure(connection).get_current_heads() == ("9999",)
    assert DatabaseProbe(database_url)().startswith("can be read and written")


def test_code_too_old_for_a_later_database_says_so(database: Database, database_url: str) -> None:
    _brought_on(database, "9998")
    with pytest.raises(ForeignDatabase, match="later version"):
        upgrade(database)
    with pytest.raises(ForeignDatabase, match="another version"):
        DatabaseProbe(database_url)()
