from __future__ import annotations

import os
import shutil
import uuid
from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager
from functools import cache
from pathlib import Path

import pytest
from fastapi import APIRouter, FastAPI
from fastapi.testclient import TestClient
from hypothesis import settings as hypothesis_settings
from sqlalchemy import Engine, create_engine, make_url, text
from starlette.routing import BaseRoute

from service.analysis.judging.classifier import Classifier
from service.api.access import remembered
from service.api.docs.documentation import DocumentedApp
from service.app import create_app
from service.records import Database, upgrade
from service.settings import Settings
from tests.taking_turns import (  # noqa: F401 - hooks
    pytest_collection_modifyitems,
    pytest_runtest_protocol,
    pytest_unconfigure,
    pytest_xdist_auto_num_workers,
)

POSTGRES = "SWING_TEST_POSTGRES_URL"

# One commit, one outcome: the same cases every time, however busy the machine.
# HYPOTHESIS_PROFILE=search draws new ones.
hypothesis_settings.register_profile("same", derandomize=True, deadline=None)
hypothesis_settings.register_profile("search", print_blob=True, deadline=None)
hypothesis_settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "same"))


@pytest.fixture(scope="session", autouse=True)
def _no_records_unless_asked_for() -> Iterator[None]:
    """Keep the default database file out of the folder that the tests run in."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SWING_DATABASE_URL", "")
        patch.setenv("SWING_ALLOWED_HOSTS", "testserver, 127.0.0.1, localhost")
        yield


@pytest.fixture(scope="session", autouse=True)
def _keys_are_waited_for_on_a_busy_machine() -> Iterator[None]:
    """Or a request whose key is not found within a second would be answered with 503."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(remembered, "_PATIENCE", 30.0)
        yield


@pytest.fixture(scope="session", autouse=True)
def _shipped_models_are_read_once() -> Iterator[None]:
    """Reading them takes most of the time of making a service, which nearly every test does."""
    load, shipped = Classifier.load, Settings().model_dir.resolve()
    read = cache(lambda: load(shipped))

    def loaded(folder: Path) -> Classifier:
        return read() if folder.resolve() == shipped else load(folder)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Classifier, "load", loaded)
        yield


@pytest.fixture(scope="session", autouse=True)
def _routes_are_made_once() -> Iterator[None]:
    """Reading the signatures of their functions takes most of the time of a first request."""
    include, made = FastAPI.include_router, dict[int, list[BaseRoute]]()

    def included(app: FastAPI, router: APIRouter, **options: object) -> None:
        if options or not isinstance(app, DocumentedApp):
            include(app, router, **options)
        elif id(router) in made:
            app.router.routes.extend(made[id(router)])
        else:
            before = len(app.router.routes)
            include(app, router)
            made[id(router)] = app.router.routes[before:]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(FastAPI, "include_router", included)
        yield


@pytest.fixture(params=["sqlite", "postgresql"])
def backend(request: pytest.FixtureRequest) -> str:
    """Name of a kind of database; skips where there is no server for it."""
    name: str = request.param
    if name == "postgresql" and not os.environ.get(POSTGRES):
        pytest.skip(f"{POSTGRES} is not set; .ci/postgres start FOLDER prints a URL for it")
    return name


@pytest.fixture
def empty_database_url(backend: str, tmp_path: Path) -> Iterator[str]:
    """URL of a database of its own, without tables."""
    if backend == "sqlite":
        yield f"sqlite:///{tmp_path / 'empty.db'}"
        return
    with _postgres_database() as url:
        yield url


@pytest.fixture
def database_url(backend: str, tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[str]:
    """URL of a database of its own, with its tables: a copy, which is faster than migrating."""
    if backend == "sqlite":
        file = shutil.copy(request.getfixturevalue("_migrated_file"), tmp_path / "records.db")
        yield f"sqlite:///{file}"
        return
    with request.getfixturevalue("_copies").one() as url:
        yield url


@pytest.fixture(scope="session")
def _migrated_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    file = tmp_path_factory.mktemp("migrated") / "records.db"
    _migrate(f"sqlite:///{file}")
    return file


class _Copies:
    """Copies of a database, one a test: the next is made while a test has the one before."""

    def __init__(self, template: str) -> None:
        self._template = template
        self._background = ThreadPoolExecutor(1)
        self._gone: list[Future[None]] = []
        self._next = self._background.submit(_create, template)

    @contextmanager
    def one(self) -> Iterator[str]:
        """URL of a copy."""
        name = self._next.result()
        self._next = self._background.submit(_create, self._template)
        try:
            yield _url_of(name)
        finally:
            self._gone.append(self._background.submit(_drop, name))

    def close(self) -> None:
        """Leave nothing on the server."""
        _drop(self._next.result())
        self._background.shutdown()
        for each in self._gone:
            each.result()


@pytest.fixture(scope="session")
def _copies() -> Iterator[_Copies]:
    with _postgres_database() as url:
        _migrate(url)
        copies = _Copies(str(make_url(url).database))
        yield copies
        copies.close()


def _migrate(url: str) -> None:
    database = Database(url)
    upgrade(database)
    database.close()


@pytest.fixture(scope="module", params=["sqlite", "postgresql"])
def keyed_url(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[str]:
    """URL of an empty database, on PostgreSQL of a role that row-level security binds."""
    if request.param == "sqlite":
        yield f"sqlite:///{tmp_path_factory.mktemp('keyed') / 'records.db'}"
        return
    server = os.environ.get(POSTGRES)
    if not server:
        pytest.skip(f"{POSTGRES} is not set; .ci/postgres start FOLDER prints a URL for it")
    role = f"plain_{uuid.uuid4().hex}"
    _run(server, f"CREATE ROLE {role} LOGIN PASSWORD 'plain' NOSUPERUSER NOBYPASSRLS")
    with _postgres_database() as url:
        database = make_url(url)
        _run(server, f"ALTER DATABASE {database.database} OWNER TO {role}")
        as_role = database.set(username=role, password="plain")
        yield as_role.render_as_string(hide_password=False)
    _run(server, f"DROP ROLE {role}")


@contextmanager
def _postgres_database() -> Iterator[str]:
    """A database of its own on the server that the environment names."""
    name = _create("template1")
    try:
        yield _url_of(name)
    finally:
        _drop(name)


def _create(template: str) -> str:
    """Name of a new database like another."""
    name = f"records_{uuid.uuid4().hex}"
    # Copying its files takes half the time of copying through the log, as is done otherwise.
    _run(os.environ[POSTGRES], f"CREATE DATABASE {name} TEMPLATE {template} STRATEGY FILE_COPY")
    return name


def _drop(name: str) -> None:
    _run(os.environ[POSTGRES], f"DROP DATABASE {name} WITH (FORCE)")


def _url_of(name: str) -> str:
    url = make_url(os.environ[POSTGRES]).set(database=name)
    return url.render_as_string(hide_password=False)


def _run(server: str, command: str) -> None:
    with _engine(server).connect() as connection:
        connection.execute(text(command))


@cache
def _engine(server: str) -> Engine:
    """Kept, as connecting takes longer than most commands."""
    return create_engine(server, isolation_level="AUTOCOMMIT")


@pytest.fixture
def database(database_url: str) -> Iterator[Database]:
    """A database of its own, with its tables."""
    database = Database(database_url)
    yield database
    database.close()


@pytest.fixture
def keeper(database_url: str) -> Iterator[TestClient]:
    """A client of a service that keeps records."""
    settings = Settings(database_url=database_url, migrate_on_start=False)
    with TestClient(create_app(settings)) as client:
        yield client
