"""Which language a browser asks for."""

from __future__ import annotations

from babel.core import negotiate_locale

from service.languages.language import CODES


def best_accepted(header: str) -> str | None:
    """The best known language of an ``Accept-Language`` header (RFC 9110, 12.5.4).

    Ranges without a known language are passed over, and so is what can't be read.

    >>> best_accepted("fr;q=0.9, de-AT;q=0.8, en;q=0.5"), best_accepted("fr")
    ('de', None)
    """
    ranked = sorted(_ranges(header), key=lambda wanted: -wanted[1])
    wanted = [tag for tag, weight in ranked if weight > 0.0]
    return negotiate_locale([t.split("-")[0].lower() for t in wanted], CODES)


def _ranges(header: str) -> list[tuple[str, float]]:
    ranges = []
    for part in header.split(","):
        tag, _, weight = part.partition(";")
        try:
            ranges.append((tag.strip(), float(weight.strip().removeprefix("q=") or 1.0)))
        except ValueError:
            continue
    return ranges
