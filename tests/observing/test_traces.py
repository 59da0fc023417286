from __future__ import annotations

import json
import logging
from collections.abc import Iterator

import pytest
from fastapi.testclient import TestClient
from opentelemetry import trace
from opentelemetry.sdk.trace import ReadableSpan, TracerProvider
from opentelemetry.sdk.trace.export import SimpleSpanProcessor
from opentelemetry.sdk.trace.export.in_memory_span_exporter import InMemorySpanExporter

from service.api.http.request_log import _JsonLines, _Text
from service.app import create_app
from service.demo import clip_body
from service.observing import traces
from service.observing.traces import record_traces, send_traces, stop_traces
from service.settings import Settings
from service.use_cases import analyse
from tests.api.clips import ANALYZE

JSON = {"Content-Type": "application/json"}
PARENT = "0af7651916cd43dd8448eb211c80319c"


@pytest.fixture
def client() -> Iterator[TestClient]:
    with TestClient(create_app(Settings(database_url=""))) as client:
        yield client


@pytest.fixture
def spans() -> Iterator[InMemorySpanExporter]:
    exporter = InMemorySpanExporter()
    record_traces(SimpleSpanProcessor(exporter))
    yield exporter
    stop_traces()


def named(exporter: InMemorySpanExporter) -> dict[str, ReadableSpan]:
    return {span.name: span for span in exporter.get_finished_spans()}


def test_nothing_is_recorded_unless_an_address_is_given(client: TestClient) -> None:
    send_traces("")
    assert client.get("/v1/layouts").status_code == 200
    assert traces.trace_id() is None
    assert traces._provider is None


def test_a_kept_swing_is_a_span_with_its_steps(
    keeper: TestClient, spans: InMemorySpanExporter
) -> None:
    player = keeper.post("/v1/players", json={"name": "Invented"}).json()["id"]
    lesson = keeper.post(f"/v1/players/{player}/lessons", json={"date": "2025-05-17"}).json()["id"]
    spans.clear()
    body = clip_body("face_on")
    sent = keeper.post(f"/v1/lessons/{lesson}/swings", content=body, headers=JSON)
    assert sent.status_code == 201
    found = named(spans)
    whole = found.pop("POST /v1/lessons/{lesson_id:uuid}/swings")
    assert whole.attributes == {
        "http.request.method": "POST",
        "http.response.status_code": 201,
        "http.route": "/v1/lessons/{lesson_id:uuid}/swings",
    }
    assert set(found) == {"parse", "analyse", "store"}
    assert {span.parent.span_id for span in found.values()} == {whole.context.span_id}
    told = json.dumps([json.loads(span.to_json()) for span in spans.get_finished_spans()])
    assert lesson not in told
    assert player not in told


def test_the_trace_of_the_caller_goes_on(client: TestClient, spans: InMemorySpanExporter) -> None:
    client.get("/v1/layouts", headers={"traceparent": f"00-{PARENT}-b7ad6b7169203331-01"})
    (span,) = spans.get_finished_spans()
    assert f"{span.context.trace_id:032x}" == PARENT


def test_a_failure_of_the_service_is_marked(
    client: TestClient, spans: InMemorySpanExporter, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: object) -> None:
        raise RuntimeError("enough")

    monkeypatch.setattr(analyse, "analyse", fail)
    assert client.post(ANALYZE, content=clip_body("face_on"), headers=JSON).status_code == 500
    assert not named(spans)[f"POST {ANALYZE}"].status.is_ok


def test_log_lines_name_the_trace(
    client: TestClient, spans: InMemorySpanExporter, caplog: pytest.LogCaptureFixture
) -> None:
    lines = []

    class Kept(logging.Handler):
        def emit(self, record: logging.LogRecord) -> None:
            lines.append((_JsonLines().format(record), _Text().format(record)))

    handler, log = Kept(), logging.getLogger("service.request")
    log.addHandler(handler)
    try:
        with caplog.at_level(logging.INFO, log.name):
            client.get("/v1/layouts", headers={"X-Request-ID": "mine"})
    finally:
        log.removeHandler(handler)
    ((as_json, as_text),) = lines
    (span,) = spans.get_finished_spans()
    told = json.loads(as_json)
    assert told["request_id"] == "mine"
    assert told["trace_id"] == f"{span.context.trace_id:032x}"
    assert "INFO" in as_text
    assert "request_id='mine'" in as_text


def test_the_framework_tells_nothing_to_what_is_set_up_in_the_process(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    exporter, provider = InMemorySpanExporter(), TracerProvider()
    provider.add_span_processor(SimpleSpanProcessor(exporter))
    monkeypatch.setattr(trace, "_TRACER_PROVIDER", provider)
    monkeypatch.setenv("FASTAPI_OTEL_AUTO_CONFIGURE", "true")
    with TestClient(create_app(Settings(database_url=""))) as client:
        assert client.get("/v1/layouts").status_code == 200
    assert exporter.get_finished_spans() == ()
