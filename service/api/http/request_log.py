"""A request id, one log line a request, and an answer even to the unforeseen."""

from __future__ import annotations

import json
import logging
import re
import sys
import time
import uuid
from typing import Final

from fastapi import Request
from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import ClientDisconnect
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from service.api.problems.answers import answer_with_problem
from service.observing.metrics import Metrics
from service.observing.traces import trace_id

REQUEST_ID: Final[str] = "X-Request-ID"
_SANE_ID = re.compile(r"[A-Za-z0-9._-]{1,64}")
_MAX_PATH = 200
_STRANGERS_CAUSE: Final = ("uvicorn", "asyncio")
_ONCE_IN: Final[float] = 60.0
"""Seconds in which the same is told once."""
_CLIENT_LEFT = 499  # not a status anyone receives; logged where the caller hung up

_log = logging.getLogger("service.request")


class RequestLog:
    """ASGI middleware: takes or makes the request id and logs each request once.

    An exception that no handler foresaw is logged with its trace here and answered with
    a bare problem, so that the answer still carries the request id.

    Parameters
    ----------
    metrics
        Told every answer.
    """

    def __init__(self, app: ASGIApp, metrics: Metrics) -> None:
        self._app = app
        self._metrics = metrics

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass one request on."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        request_id = _request_id(Headers(scope=scope))
        scope.setdefault("state", {})["request_id"] = request_id
        status = _CLIENT_LEFT
        started = False

        async def send_with_id(message: Message) -> None:
            nonlocal status, started
            if message["type"] == "http.response.start":
                started, status = True, message["status"]
                MutableHeaders(scope=message)[REQUEST_ID] = request_id
            await send(message)

        begin = time.perf_counter()
        try:
            await self._app(scope, receive, send_with_id)
        except ClientDisconnect:
            pass
        except Exception as error:
            _log.exception("unforeseen error", extra={"fields": {"request_id": request_id}})
            if started:
                raise
            response = await answer_with_problem(Request(scope), error)
            await response(scope, receive, send_with_id)
        finally:
            seconds = time.perf_counter() - begin
            route = getattr(scope.get("route"), "path", "none")
            self._metrics.request(scope["method"], route, status, seconds)
            _log_request(scope, request_id, status, seconds)


def _request_id(headers: Headers) -> str:
    sent = headers.get(REQUEST_ID, "")
    return sent if _SANE_ID.fullmatch(sent) else uuid.uuid4().hex


def _log_request(scope: Scope, request_id: str, status: int, seconds: float) -> None:
    fields = {
        "request_id": request_id,
        "method": scope["method"],
        "path": scope["path"][:_MAX_PATH],
        "status": status,
        "milliseconds": round(1000 * seconds, 1),
    }
    _log.info("request", extra={"fields": fields})


class _JsonLines(logging.Formatter):
    """One JSON object a line."""

    def format(self, record: logging.LogRecord) -> str:
        line: dict[str, object] = {
            "time": self.formatTime(record, "%Y-%m-%dT%H:%M:%S%z"),
            "level": record.levelname.lower(),
            "logger": record.name,
            "message": record.getMessage(),
            **_fields(record),
        }
        if record.exc_info:
            line["trace"] = self.formatException(record.exc_info)
        return json.dumps(line)


class _Text(logging.Formatter):
    """A line to read: the time, the level, what is said, and each other field as name=value."""

    def __init__(self) -> None:
        super().__init__("%(asctime)s %(levelname)-7s %(name)s: %(message)s%(told)s")

    def format(self, record: logging.LogRecord) -> str:
        said, fields = record.getMessage(), _fields(record).items()
        record.told = "".join(f" {n}={value!r}" for n, value in fields if str(value) not in said)
        return super().format(record)


def _fields(record: logging.LogRecord) -> dict[str, object]:
    """What a record tells beside its message, and the trace that it belongs to."""
    trace = trace_id()
    return {**getattr(record, "fields", {}), **({"trace_id": trace} if trace else {})}


class _ToldOnce(logging.Filter):
    """Lets what strangers can cause without end, such as bytes that are no HTTP, through once a
    while; the next line says how often it was held back."""

    def __init__(self) -> None:
        super().__init__()
        self._told: dict[str, tuple[float, int]] = {}

    def filter(self, record: logging.LogRecord) -> bool:
        """Whether the record is told."""
        if record.levelno < logging.WARNING or not record.name.startswith(_STRANGERS_CAUSE):
            return True
        what = f"{record.name} {str(record.msg)[:_MAX_PATH]}"
        told, held_back = self._told.get(what, (-_ONCE_IN, 0))
        if record.created - told < _ONCE_IN:
            self._told[what] = (told, held_back + 1)
            return False
        if len(self._told) >= _MAX_PATH:
            self._told.clear()
        self._told[what] = (record.created, 0)
        if held_back:
            record.fields = {"held_back": held_back}
        return True


def log_to_stderr(level: str, form: str) -> None:
    """Send every log record to standard error, as a line of JSON or of text.

    Parameters
    ----------
    form
        ``json`` or ``text``.
    """
    handler = logging.StreamHandler(sys.stderr)
    handler.addFilter(_ToldOnce())
    handler.setFormatter(_JsonLines() if form == "json" else _Text())
    logging.basicConfig(level=level.upper(), handlers=[handler], force=True)
    logging.getLogger("alembic").setLevel(logging.WARNING)  # it tells of itself at every start
