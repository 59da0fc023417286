"""Which pages may call the service from a browser, and by which names it is called."""

from __future__ import annotations

from typing import Final

from fastapi import FastAPI
from starlette.middleware.cors import CORSMiddleware
from starlette.middleware.trustedhost import TrustedHostMiddleware

from service.api.http.retries import IDEMPOTENCY_KEY
from service.settings import Settings

_METHODS: Final[tuple[str, ...]] = ("GET", "HEAD", "POST", "PATCH", "DELETE")
_SENT: Final[tuple[str, ...]] = (
    "Authorization",
    "Content-Encoding",
    "Content-Type",
    IDEMPOTENCY_KEY,
    "If-Match",
    "If-None-Match",
    "X-Request-ID",
)
_SHOWN: Final[tuple[str, ...]] = (
    "Content-Disposition",
    "ETag",
    "Location",
    "Retry-After",
    "X-Request-ID",
)
_THIS_MACHINE: Final[str] = "127.0.0.1"
"""By which a container asks after its own health."""


def guard_browsers(app: FastAPI, settings: Settings) -> None:
    """Let pages of the origins in the settings call, and refuse names that are not in them.

    To be called after every other middleware was added, so that their refusals can be read too.
    """
    if settings.allowed_hosts:
        hosts = [*settings.allowed_hosts, _THIS_MACHINE]
        app.add_middleware(TrustedHostMiddleware, allowed_hosts=hosts, www_redirect=False)
    if settings.cors_origins:
        app.add_middleware(
            CORSMiddleware,
            allow_origins=settings.cors_origins,
            allow_methods=_METHODS,
            allow_headers=_SENT,
            expose_headers=_SHOWN,
        )
