"""OpenTelemetry traces, where they are asked for: a span a request, and one a step within it.

Without an address to send to nothing is recorded and nothing is sent. Spans name routes, statuses
and steps; no path, id, query or body is in them.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Final

from starlette.types import ASGIApp, Message, Receive, Scope, Send

import service

if TYPE_CHECKING:
    from opentelemetry.sdk.trace import SpanProcessor, TracerProvider
    from opentelemetry.trace import Span, Tracer

_NAME: Final[str] = "swing-fault-service"
_ERROR: Final[int] = 500

_provider: TracerProvider | None = None
_tracer: Tracer | None = None


class TracesUnavailable(Exception):
    """The packages of the extra `traces` are not installed."""


def send_traces(endpoint: str) -> None:
    """Send traces to a collector by OTLP over HTTP from now on; to none where it is empty.

    Raises
    ------
    TracesUnavailable
        When the packages for it are missing.
    """
    if not endpoint:
        return
    try:
        from opentelemetry.exporter.otlp.proto.http.trace_exporter import OTLPSpanExporter
        from opentelemetry.sdk.trace.export import BatchSpanProcessor
    except ImportError:
        raise TracesUnavailable(
            "SWING_TRACES_ENDPOINT is set, but the packages for it are not installed: "
            "pip install 'swing-fault-service[traces]'"
        ) from None
    record_traces(BatchSpanProcessor(OTLPSpanExporter(endpoint=endpoint)))


def record_traces(processor: SpanProcessor) -> None:
    """Hand every span to a processor from now on."""
    from opentelemetry.sdk.resources import Resource
    from opentelemetry.sdk.trace import TracerProvider

    global _provider, _tracer
    told = {"service.name": _NAME, "service.version": service.__version__}
    _provider = TracerProvider(resource=Resource.create(told))
    _provider.add_span_processor(processor)
    _tracer = _provider.get_tracer(_NAME, service.__version__)


def stop_traces() -> None:
    """Send what was not sent yet, and record no more."""
    global _provider, _tracer
    if _provider is not None:
        _provider.shutdown()
    _provider = _tracer = None


@contextmanager
def step(name: str) -> Iterator[None]:
    """A step of the work on a request: `parse`, `analyse` or `store`."""
    if _tracer is None:
        yield
        return
    with _tracer.start_as_current_span(name, record_exception=False):
        yield


def trace_id() -> str | None:
    """The id of the trace that the present work belongs to, as 32 hexadecimal digits."""
    if _tracer is None:
        return None
    from opentelemetry.trace import format_trace_id, get_current_span

    context = get_current_span().get_span_context()
    return format_trace_id(context.trace_id) if context.is_valid else None


class Traced:
    """ASGI middleware: a span a request, after the conventions of OpenTelemetry for HTTP.

    Goes on with the trace that the header ``traceparent`` names (W3C Trace Context).
    """

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass one request on."""
        if _tracer is None or scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        from opentelemetry.trace import SpanKind
        from opentelemetry.trace.propagation.tracecontext import TraceContextTextMapPropagator

        headers = {name.decode("latin-1"): v.decode("latin-1") for name, v in scope["headers"]}
        with _tracer.start_as_current_span(
            scope["method"],
            context=TraceContextTextMapPropagator().extract(headers),
            kind=SpanKind.SERVER,
            attributes={"http.request.method": scope["method"]},
            record_exception=False,
        ) as span:

            async def note_status(message: Message) -> None:
                if message["type"] == "http.response.start":
                    _note(span, message["status"])
                await send(message)

            await self._app(scope, receive, note_status)
            route = getattr(scope.get("route"), "path", None)
            if route is not None:
                span.update_name(f"{scope['method']} {route}")
                span.set_attribute("http.route", route)


def _note(span: Span, status: int) -> None:
    from opentelemetry.trace import StatusCode

    span.set_attribute("http.response.status_code", status)
    if status >= _ERROR:
        span.set_status(StatusCode.ERROR)
