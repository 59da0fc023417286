"""In which language an answer is told."""

from __future__ import annotations

from typing import Annotated

from fastapi import Depends, Query, Request
from pydantic import AfterValidator
from pydantic_core import PydanticCustomError

from service.api.http.dependencies import settings_of
from service.languages import CODES, Language, best_accepted, language


def _known(code: str) -> str:
    if code not in CODES:
        raise PydanticCustomError(
            "unknown_language",
            "is not the code of a language in which this is told; send one of {codes}",
            {"codes": ", ".join(CODES)},
        )
    return code


LanguageCode = Annotated[
    str,
    AfterValidator(_known),
    Query(
        description="Language to tell it in; without it the best of `Accept-Language`, then the "
        "service's own.",
        json_schema_extra={"enum": list(CODES)},
    ),
]
"""A language as a query names it."""


async def _accepted(request: Request) -> Language:
    accept_language = ",".join(request.headers.getlist("accept-language"))
    accepted = best_accepted(accept_language) if accept_language else None
    return language(accepted or settings_of(request).language)


AcceptedLanguage = Annotated[Language, Depends(_accepted)]
"""The language asked for by the browser, else that of the settings."""


async def _asked(request: Request, lang: LanguageCode | None = None) -> Language:
    return language(lang) if lang else await _accepted(request)


AskedLanguage = Annotated[Language, Depends(_asked)]
"""The language asked for in the query, else by the browser, else that of the settings."""


def of_language(told_in: Language) -> dict[str, str]:
    """Headers of an answer that is told in a language."""
    return {"Content-Language": told_in.code, "Vary": "Accept-Language"}
