from __future__ import annotations

import os
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor

from alembic import command
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.migration import MigrationContext
from sqlalchemy import create_engine, inspect, text

from service.records import Behalf, Database, Window, upgrade
from service.records.access import academies
from service.records.identity import new_id
from service.records.keeping import lessons, players
from service.records.tables import Base


def test_the_migrations_make_the_tables_that_the_code_speaks_of(database: Database) -> None:
    with database.connected() as connection:
        context = MigrationContext.configure(connection)
        assert compare_metadata(context, Base.metadata) == []


def test_migrating_again_changes_nothing(database: Database) -> None:
    upgrade(database)
    with database.connected() as connection:
        assert set(inspect(connection).get_table_names()) == {
            *Base.metadata.tables,
            "alembic_version",
        }


def test_threads_that_migrate_at_once_all_succeed(empty_database_url: str) -> None:
    databases = [Database(empty_database_url) for _ in range(4)]
    with ThreadPoolExecutor(4) as pool:
        list(pool.map(upgrade, databases))
    for database in databases:
        with database.connected() as connection:
            assert "finding" in inspect(connection).get_table_names()
        database.close()


def test_processes_that_migrate_at_once_all_succeed(empty_database_url: str) -> None:
    environment = {**os.environ, "SWING_DATABASE_URL": empty_database_url}
    command_line = [sys.executable, "-m", "service", "migrate"]
    running = [subprocess.Popen(command_line, env=environment) for _ in range(2)]
    assert [process.wait(timeout=120) for process in running] == [0, 0]
    database = Database(empty_database_url)
    with database.connected() as connection:
        assert "finding" in inspect(connection).get_table_names()
    database.close()


BY_THE_VERSION_BEFORE = (
    "INSERT INTO player (id, name, created, version) VALUES (:player, 'Ada', :now, 1)",
    "INSERT INTO lesson (id, player_id, date, created, version) "
    "VALUES (:lesson, :player, '2025-05-17', :now, 1)",
    "INSERT INTO retry (key, fingerprint, created, player_id, location, etag, body) "
    "VALUES ('k', :bytes, :now, :player, '/', '1', :bytes)",
)


def test_the_version_before_goes_on_beside_this_one_with_the_default_academy(
    keyed_url: str,
) -> None:
    database = Database(keyed_url)
    upgrade(database)
    sqlite = keyed_url.startswith("sqlite")
    ids = {kind: new_id() for kind in ("player", "lesson")}
    values = {k: i.replace("-", "") if sqlite else i for k, i in ids.items()}
    values |= {"now": "2025-05-17 10:00:00", "bytes": b"x"}
    before = create_engine(keyed_url)  # which says nothing of academies
    with before.begin() as connection:
        for statement in BY_THE_VERSION_BEFORE:
            connection.execute(text(statement), values)
    with database.reading() as session:
        (lesson,) = lessons.of_player(session, ids["player"])
        assert lesson.id == ids["lesson"]
    with database.writing() as session:
        north = database.on_behalf(Behalf(academies.add(session, "North").id))
    with north.reading() as session:
        assert players.fetch_page(session, Window(10)).items == ()
    with north.writing() as session:
        players.add(session, "Bo")
    with before.connect() as connection:
        names = connection.scalars(text("SELECT name FROM player ORDER BY name")).all()
    assert names == (["Ada", "Bo"] if sqlite else ["Ada"]), "SQLite leaves it to the queries"
    before.dispose()
    database.close()


def test_a_migration_can_be_taken_back_and_applied_again(database: Database) -> None:
    with database.connected() as connection:
        config = Config()
        config.set_main_option("script_location", "service.records:migrations")
        config.attributes["connection"] = connection
        command.downgrade(config, "base")
        assert inspect(connection).get_table_names() == ["alembic_version"]
    upgrade(database)
    with database.connected() as connection:
        assert "player" in inspect(connection).get_table_names()
