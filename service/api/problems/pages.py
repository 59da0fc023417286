"""The pages that problem types point to."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

from service.api.problems.kinds import ProblemKind

_PAGE = """<!doctype html>
<html lang="en">
<meta charset="utf-8">
<title>{title}</title>
<h1>{title}</h1>
{sections}
</html>
"""
_SECTION = """<section>
<h2>{slug}</h2>
<p>Status {status}. {title}.</p>
<p>{meaning}</p>
</section>"""


def page(title: str, kinds: Iterable[ProblemKind]) -> str:
    """An HTML page that explains some kinds of problem."""
    return _PAGE.format(title=escape(title), sections="\n".join(map(_section, kinds)))


def _section(kind: ProblemKind) -> str:
    return _SECTION.format(
        slug=escape(kind.slug),
        status=kind.status,
        title=escape(kind.title),
        meaning=escape(kind.meaning),
    )
