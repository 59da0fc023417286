"""Figures of batches: what their workers do, wherever they run, and what is still to be done."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

import httpx
from fastapi.testclient import TestClient

from service.api.names import REASONS
from service.records import Behalf, Database
from service.records.access import academies
from service.records.batches import batches, queue
from service.records.batches.entities import ItemKind, NewBatch, NewItem
from tests.contract.serving import serving
from tests.observing.test_metrics import counted, figures  # noqa: F401 - a fixture
from tests.ports import free_port
from tests.records.kept import still_body, swing_body


def test_what_workers_of_batches_do_is_counted_in_the_server_s_figures(tmp_path: Path) -> None:
    lines = b"\n".join([swing_body(1), swing_body(2), still_body("a"), b"{"])
    settings = {"SWING_METRICS": "true", "SWING_BATCH_WORKERS": "1"}
    with serving(tmp_path, **settings) as address, _asking(address) as client:
        headers = {"Content-Type": "application/x-ndjson"}
        made = client.post("/v1/batches", content=lines, headers=headers)
        assert made.status_code == 202, made.text
        results = client.get(f"{made.headers['location']}/results")
        assert len(results.text.splitlines()) == 4
        told = figures(client.get("/metrics").text)
    assert told["swing_batch_lines_total", "done"] == 3
    assert told["swing_batch_lines_total", "failed"] == 1
    assert told["swing_batch_piece_seconds_count",] == 1
    assert told["swing_analysis_seconds_count",] == 3
    assert sum(v for k, v in told.items() if k[0] == "swing_analyses_total") == 3
    assert sum(v for k, v in told.items() if k[0] == "swing_findings_total") > 8
    assert {k[1] for k in told if k[0] == "swing_not_assessable_total"} <= set(REASONS)
    assert told["swing_batch_pieces_waiting",] == 0
    assert told["swing_batch_pieces_in_hand",] == 0
    assert told["swing_batch_oldest_seconds",] == 0


def test_a_worker_elsewhere_serves_figures_of_its_own(tmp_path: Path) -> None:
    port = free_port()
    worker = subprocess.Popen(
        [sys.executable, "-m", "service", "work", "--metrics-port", str(port)],
        env={**os.environ, "SWING_DATABASE_URL": f"sqlite:///{tmp_path / 'records.db'}"},
        stderr=subprocess.DEVNULL,
    )
    try:
        told = figures(_once_up(f"http://127.0.0.1:{port}/metrics"))
    finally:
        worker.terminate()
        worker.wait(120)
    assert told["swing_batch_pieces_waiting",] == 0
    assert told["swing_batch_piece_seconds_count",] == 0
    assert any(key[0] == "swing_model_info" for key in told)


def _asking(address: str) -> httpx.Client:
    return httpx.Client(base_url=address, timeout=120)


def _once_up(address: str) -> str:
    with _asking(address) as client:
        for _ in range(600):
            try:
                return client.get(address).raise_for_status().text
            except httpx.HTTPError:
                time.sleep(0.1)
    raise AssertionError("the worker tells nothing")


def test_the_queue_is_told_of_all_academies_together(
    database: Database,
    counted: TestClient,  # noqa: F811
) -> None:
    with database.writing() as session:
        others = academies.add(session, "Others")
    other = database.on_behalf(Behalf(others.id))
    for whose in (database, other):
        with whose.writing() as session:
            batch = batches.receive(session, NewBatch())
            batches.add_items(session, batch.id, [NewItem(0, ItemKind.LINES, 1, b"{}")])
            batches.open_up(session, batch.id, 1)
    with other.writing() as session:
        assert queue.take(session, "somebody", 60.0) is not None
    told = figures(counted.get("/metrics").text)
    assert told["swing_batch_pieces_waiting",] == 1
    assert told["swing_batch_pieces_in_hand",] == 1
    assert 0 < told["swing_batch_oldest_seconds",] < 600
