"""Which pages may call the service from a browser."""

from __future__ import annotations

from typing import Final

from fastapi import FastAPI
from starlette.middleware.cors import CORSMiddleware

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
    "RateLimit",
    "RateLimit-Policy",
    "Retry-After",
    "X-Request-ID",
)


def let_pages_call(app: FastAPI, settings: Settings) -> None:
    """Let pages of the origins in the settings call.

    To be called after every other middleware was added, so that their refusals can be read too.
    """
    if settings.cors_origins:
        app.add_middleware(
            CORSMiddleware,
            allow_origins=settings.cors_origins,
            allow_methods=_METHODS,
            allow_headers=_SENT,
            expose_headers=_SHOWN,
        )
