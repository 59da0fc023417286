"""A database that hangs holds nobody up for long, and what it may have written is told."""

from __future__ import annotations

import os
import signal
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import psycopg
import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from sqlalchemy import event, make_url, text
from sqlalchemy.exc import OperationalError

from service.app import create_app
from service.demo import clip_body
from service.records import Database, RecordsUnavailable
from service.records.connection import database
from service.records.errors import PerhapsWritten
from service.records.keeping import players
from service.settings import Settings
from service.use_cases.keep import forget_player

SOON = 10.0
"""Seconds: far more than the limits below, and far less than what they end would take."""
JSON = {"Content-Type": "application/json"}


@pytest.fixture
def postgres(database_url: str, monkeypatch: pytest.MonkeyPatch) -> str:
    """URL of a PostgreSQL database; limits are shorter than usual."""
    if not database_url.startswith("postgresql"):
        pytest.skip("SQLite is no server that could hang")
    limits = {
        "connect_timeout": 2,
        "options": "-c statement_timeout=600 -c lock_timeout=300",
    }
    monkeypatch.setattr(database, "_POSTGRES_LIMITS", limits)
    monkeypatch.setattr(database, "_PATIENCE", 1.0)
    return database_url


@contextmanager
def _soon() -> Iterator[None]:
    begin = time.monotonic()
    yield
    assert time.monotonic() - begin < SOON


def _hung_server() -> socket.socket:
    """Something that takes connections and says nothing, until it is closed."""
    return socket.create_server(("127.0.0.1", 0))


def _url(server: socket.socket) -> str:
    return f"postgresql+psycopg://nobody@127.0.0.1:{server.getsockname()[1]}/none"


def _run(opened: Database, statement: str) -> None:
    with opened.reading() as session:
        session.connection().execute(text(statement))


def _backend(connection_name: str, server: str) -> int:
    with psycopg.connect(server.replace("+psycopg", "")) as other:
        row = other.execute(
            "SELECT pid FROM pg_stat_activity WHERE datname = %s AND pid <> pg_backend_pid()",
            [connection_name],
        ).fetchone()
    assert row is not None
    return int(row[0])


def test_the_limits_are_those_of_the_server_s_sessions(database_url: str) -> None:
    if not database_url.startswith("postgresql"):
        pytest.skip("SQLite has but its busy_timeout")
    opened = Database(database_url)
    with opened.reading() as session:
        assert session.connection().scalar(text("SHOW statement_timeout")) == "20s"
        assert session.connection().scalar(text("SHOW lock_timeout")) == "5s"
    opened.close()


def test_a_server_that_takes_connections_but_says_nothing_is_given_up(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(database, "_POSTGRES_LIMITS", {"connect_timeout": 2})
    with _hung_server() as server, _soon(), pytest.raises(RecordsUnavailable):
        _run(Database(_url(server)), "SELECT 1")


def test_a_statement_that_takes_too_long_is_ended(postgres: str) -> None:
    opened = Database(postgres)
    with _soon(), pytest.raises(RecordsUnavailable, match="statement timeout"):
        _run(opened, "SELECT pg_sleep(20)")
    opened.close()


def test_a_lock_that_is_not_given_back_is_not_waited_for(postgres: str) -> None:
    opened = Database(postgres)
    with opened.writing() as session:
        player = players.add(session, "Ada Fairway")
    with opened.writing() as holder:
        players.change(holder, player.id, {"note": "held"}, frozenset({1}))
        with _soon(), pytest.raises(RecordsUnavailable, match="lock timeout"):
            forget_player(opened, player.id, None)
    opened.close()


def test_a_server_stopped_in_the_middle_is_given_up_and_found_again(postgres: str) -> None:
    opened = Database(postgres)
    with opened.reading() as session:
        session.connection().execute(text("SELECT 1"))
        hung = _backend(str(make_url(postgres).database), postgres)
        os.kill(hung, signal.SIGSTOP)
        try:
            with _soon(), pytest.raises(OperationalError, match="no answer within 1 s"):
                session.connection().execute(text("SELECT 2"))
        finally:
            os.kill(hung, signal.SIGCONT)
    with opened.reading() as session:
        assert session.connection().scalar(text("SELECT 3")) == 3
    opened.close()


def _inside(app: FastAPI) -> float:
    """How many requests about the records are taken in and not answered yet."""
    figures = app.state.metrics.registry
    return float(figures.get_sample_value("swing_requests_inside", {"lane": "records"}) or 0.0)


def test_swings_are_analysed_while_the_database_hangs(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(database, "_POSTGRES_LIMITS", {"connect_timeout": 8})
    with socket.socket() as server:
        server.bind(("127.0.0.1", 0))  # refuses, so that the start need not wait
        url = _url(server)
        settings = Settings(database_url=url, migrate_on_start=False, max_requests=2, open=True)
        app = create_app(settings)
        with TestClient(app) as client:
            server.listen()
            waiting = [threading.Thread(target=client.get, args=("/v1/players",)) for _ in range(2)]
            for each in waiting:
                each.start()
            begin = time.monotonic()
            while _inside(app) < 2:
                assert time.monotonic() - begin < SOON
                time.sleep(0.02)
            answer = client.post("/v1/swings/analyze", content=clip_body("face_on"), headers=JSON)
            assert answer.json()["swing_found"]
            assert client.get("/v1/players").json()["type"] == "/problems/too-busy"
            ready = client.get("/readyz")
            assert any(each.is_alive() for each in waiting), "they were to wait meanwhile"
            assert time.monotonic() - begin < SOON
            assert "database (no answer" in ready.json()["detail"]
            server.close()  # or they would wait as long as they are let
            for each in waiting:
                each.join()


def test_swings_are_analysed_while_the_database_is_away() -> None:
    url = "postgresql+psycopg://nobody@127.0.0.1:9/none"
    with TestClient(create_app(Settings(database_url=url))) as client:
        answer = client.post("/v1/swings/analyze", content=clip_body("face_on"), headers=JSON)
        assert answer.json()["swing_found"]
        assert client.get("/v1/players").json()["type"] == "/problems/records-unavailable"


def _count(opened: Database) -> int:
    with opened.reading() as session:
        return int(session.connection().scalar(text("SELECT count(*) FROM player")) or 0)


def test_a_change_whose_confirmation_fails_may_have_been_written_and_is_told_so(
    keeper: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    opened = keeper.app.state.records
    engine = opened._engine

    def commit_and_fail(connection: Any) -> None:
        connection.commit()
        raise engine.dialect.dbapi.OperationalError("the connection broke")

    with monkeypatch.context() as patch:
        patch.setattr(engine.dialect, "do_commit", commit_and_fail)
        answer = keeper.post("/v1/players", json={"name": "Ada Fairway"})
        with pytest.raises(PerhapsWritten), opened.writing() as session:
            players.add(session, "Bea Fairway")
    assert (answer.status_code, answer.json()["type"]) == (503, "/problems/perhaps-written")
    assert _count(opened) == 2


def test_a_change_that_fails_before_is_not_written_and_is_told_so(keeper: TestClient) -> None:
    opened = keeper.app.state.records
    engine = opened._engine

    def fail(*_: Any) -> None:
        raise engine.dialect.dbapi.OperationalError("the disk is full")

    event.listen(engine, "before_cursor_execute", fail)
    try:
        answer = keeper.post("/v1/players", json={"name": "Ada Fairway"})
    finally:
        event.remove(engine, "before_cursor_execute", fail)
    assert (answer.status_code, answer.json()["type"]) == (503, "/problems/records-unavailable")
    assert "Nothing was written" in answer.json()["detail"]
    assert _count(opened) == 0
