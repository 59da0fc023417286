"""The whole database written to a file, and read back from it.

SQLite copies itself while it is in use (its online backup interface); PostgreSQL's own programs
``pg_dump`` and ``pg_restore`` do it there. A backup holds what was kept at its moment: restoring it
brings back what was deleted since.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
from collections.abc import Sequence
from contextlib import closing
from pathlib import Path
from typing import Final

from psycopg.conninfo import make_conninfo
from sqlalchemy import URL, func, make_url, select
from sqlalchemy.engine import Connection

from service.records.connection.database import Database
from service.records.connection.migrate import upgrade
from service.records.errors import BackupFailed
from service.records.tables import PlayerRow

_OWNER_ONLY: Final[int] = 0o600
_WHERE: Final[Path] = Path("/usr/lib/postgresql")
"""Where some systems put PostgreSQL's programs, off the path."""


def back_up(url: str, file: Path) -> None:
    """Write a database to a file that only its owner may read.

    A file of that name is replaced once the new one is whole.

    Raises
    ------
    BackupFailed
        When it can't be done; what was there is left.
    """
    part = file.with_name(f"{file.name}.part")
    parsed = make_url(url)
    try:
        os.close(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, _OWNER_ONLY))
        part.chmod(_OWNER_ONLY)
        if parsed.get_backend_name() == "sqlite":
            _copy_sqlite(Path(parsed.database or ""), part)
            _check_sqlite(part)
        else:
            _run(parsed, "pg_dump", "--format=custom", f"--file={part}")
        part.replace(file)
    except OSError as error:
        raise BackupFailed(f"can't write {file}: {error.strerror}") from None
    finally:
        part.unlink(missing_ok=True)


def restore(url: str, file: Path, *, replace: bool = False) -> None:
    """Fill a database from a backup, and bring it to the tables of this version.

    Nothing else may use the database meanwhile.

    Parameters
    ----------
    replace
        Whether players that it holds may be lost.

    Raises
    ------
    BackupFailed
        When the file is no backup of this kind of database, or the database holds players.
    """
    if not file.is_file():
        raise BackupFailed(f"there is no file {file}")
    database = Database(url)
    try:
        if not replace and _players(database):
            raise BackupFailed(
                "the database holds players, who would be lost: restore into an empty one, or say "
                "--replace"
            )
    finally:
        database.close()
    parsed = make_url(url)
    if parsed.get_backend_name() == "sqlite":
        _check_sqlite(file)
        _copy_sqlite(file, Path(parsed.database or ""))
    else:
        arguments = ("--clean", "--if-exists", "--single-transaction", "--exit-on-error")
        _run(parsed, "pg_restore", *arguments, str(file))
    database = Database(url)
    try:
        upgrade(database)
        database.forget_deleted()
    finally:
        database.close()


def _players(database: Database) -> int:
    with database.connected() as connection:
        return _count(connection)


def _count(connection: Connection) -> int:
    if not connection.dialect.has_table(connection, PlayerRow.__tablename__):
        return 0
    return connection.scalar(select(func.count()).select_from(PlayerRow.__table__)) or 0


def _copy_sqlite(source: Path, target: Path) -> None:
    try:
        with (
            closing(sqlite3.connect(f"file:{source}?mode=ro", uri=True)) as read,
            closing(sqlite3.connect(target)) as written,
        ):
            read.backup(written)
            written.execute("PRAGMA journal_mode = DELETE")  # one file, with nothing beside it
    except sqlite3.Error as error:
        raise BackupFailed(f"{source} could not be copied to {target}: {error}") from None


def _check_sqlite(file: Path) -> None:
    """Make sure that a file is a sound database with the tables of the service."""
    try:
        with closing(sqlite3.connect(f"file:{file}?mode=ro", uri=True)) as read:
            (sound,) = read.execute("PRAGMA integrity_check").fetchone()
            version = read.execute("SELECT version_num FROM alembic_version").fetchone()
    except sqlite3.Error as error:
        raise BackupFailed(f"{file} is no backup of a SQLite database: {error}") from None
    if sound != "ok" or version is None:
        raise BackupFailed(f"{file} is damaged: {sound}")


def _run(url: URL, name: str, *arguments: str) -> None:
    """Run one of PostgreSQL's programs on a database, all of whose academies it sees."""
    environment = {**os.environ, "PGOPTIONS": "-c swing.academy=all"}
    if url.password:
        environment["PGPASSWORD"] = url.password  # not where others see it, among the arguments
    known = {"host": url.host, "port": url.port, "user": url.username, "dbname": url.database}
    told = {**known, **url.query}
    where = make_conninfo("", **{k: str(v) for k, v in told.items() if v is not None})
    common = ("--no-owner", "--no-privileges", "--enable-row-security", f"--dbname={where}")
    command = [_program(name), *common, *arguments]
    done = subprocess.run(command, env=environment, capture_output=True, text=True, check=False)
    if done.returncode:
        raise BackupFailed(f"{name} failed: {_last_lines(done.stderr)}")


def _program(name: str) -> str:
    found = shutil.which(name) or _newest(sorted(_WHERE.glob(f"*/bin/{name}"), key=_version))
    if found is None:
        raise BackupFailed(
            f"{name} is not installed: install PostgreSQL's client programs, of the server's "
            "version or a later one"
        )
    return found


def _newest(found: Sequence[Path]) -> str | None:
    return str(found[-1]) if found else None


def _version(program: Path) -> float:
    try:
        return float(program.parts[-3])
    except ValueError:
        return 0.0


def _last_lines(text: str) -> str:
    return " ".join(text.strip().splitlines()[-3:])
