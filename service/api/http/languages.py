"""In which language an answer is told."""

from __future__ import annotations

from typing import Annotated

from fastapi import Depends, Header, Query
from pydantic import AfterValidator
from pydantic_core import PydanticCustomError

from service.api.http.dependencies import CurrentSettings
from service.languages import CODES, Language, best_accepted, language


def _known(code: str) -> str:
    if code not in CODES:
        raise PydanticCustomError(
            "unknown_language",
            "is not the code of a language in which recaps are told; send one of {codes}",
            {"codes": ", ".join(CODES)},
        )
    return code


_Code = Annotated[
    str,
    AfterValidator(_known),
    Query(
        description="Language to tell it in; without it the best of `Accept-Language`, then the "
        "service's own.",
        json_schema_extra={"enum": list(CODES)},
    ),
]


async def _asked(
    settings: CurrentSettings,
    lang: _Code | None = None,
    accept_language: Annotated[str | None, Header(include_in_schema=False)] = None,
) -> Language:
    accepted = best_accepted(accept_language) if accept_language else None
    return language(lang or accepted or settings.language)


AskedLanguage = Annotated[Language, Depends(_asked)]
"""The language asked for in the query, else by the browser, else that of the settings."""
