"""`/docs`: the contract to read and to try in a browser; nothing is fetched from elsewhere.

Swagger UI (Apache 2.0) as the package fastapi-swagger (MIT) ships it. The page has no script of
its own within, so that the strictest content policy lets it work.
"""

from __future__ import annotations

from importlib import resources
from typing import Final

from fastapi import APIRouter, Response
from fastapi.responses import HTMLResponse

from service.api.problems.details import ProblemError
from service.api.problems.kinds import NOT_FOUND

router = APIRouter(prefix="/docs", include_in_schema=False)

_PACKAGE: Final[str] = "fastapi_swagger.resources"
_TYPES: Final[dict[str, str]] = {
    "swagger-ui.css": "text/css",
    "swagger-ui-bundle.js": "text/javascript",
    "favicon-32x32.png": "image/png",
}
_CACHED: Final[dict[str, str]] = {"Cache-Control": "public, max-age=3600"}
_PAGE: Final[str] = """<!doctype html>
<html lang="en">
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>Swing faults: documentation</title>
<link rel="icon" href="docs/favicon-32x32.png">
<link rel="stylesheet" href="docs/swagger-ui.css">
<div id="docs"></div>
<noscript>This page needs scripts; the contract is in <a href="openapi.json">openapi.json</a>.
</noscript>
<script src="docs/swagger-ui-bundle.js"></script>
<script src="docs/start.js"></script>
</html>
"""
_START: Final[str] = """SwaggerUIBundle({
  url: "openapi.json",
  dom_id: "#docs",
  deepLinking: true,
  docExpansion: "list",
  validatorUrl: null,
});
"""
"""Without `validatorUrl: null` the page would send the contract to a service elsewhere."""


@router.get("")
async def get_page() -> HTMLResponse:
    """The page."""
    return HTMLResponse(_PAGE)


@router.get("/start.js")
async def get_start() -> Response:
    """What sets the page going."""
    return Response(_START, media_type="text/javascript")


@router.get("/{name}")
def get_asset(name: str) -> Response:
    """A file that the page needs."""
    if name not in _TYPES:
        raise ProblemError(NOT_FOUND, NOT_FOUND.meaning)
    content = resources.files(_PACKAGE).joinpath(name).read_bytes()
    return Response(content, media_type=_TYPES[name], headers=_CACHED)
