from __future__ import annotations

import os
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor

from alembic import command
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.migration import MigrationContext
from sqlalchemy import inspect

from service.records import Database, upgrade
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
    running = [subprocess.Popen(command_line, env=environment) for _ in range(3)]
    assert [process.wait(timeout=60) for process in running] == [0, 0, 0]
    database = Database(empty_database_url)
    with database.connected() as connection:
        assert "finding" in inspect(connection).get_table_names()
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
