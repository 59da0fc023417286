"""Tables as comma-separated values (RFC 4180) that a spreadsheet can be trusted with."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from typing import Final

_MARK: Final[bytes] = b"\xef\xbb\xbf"
"""By which spreadsheets tell UTF-8; Python reads it away as ``utf-8-sig``."""

_FORMULA: Final[tuple[str, ...]] = ("=", "+", "-", "@", "\t", "\r")
"""How a text begins that a spreadsheet would take for a formula."""


def head(columns: Iterable[str]) -> bytes:
    """What a table begins with: the mark of UTF-8 and the names of its columns.

    >>> head(["line", "path"])
    b'\\xef\\xbb\\xbfline,path\\r\\n'
    """
    return _MARK + as_csv([columns])


def as_csv(table: Iterable[Iterable[object]]) -> bytes:
    """Rows as lines of comma-separated values in UTF-8.

    >>> as_csv([[True, None, "=1+1"]])
    b"true,,'=1+1\\r\\n"
    """
    text = io.StringIO()
    rows = ([_cell(value) for value in row] for row in table)
    csv.writer(text, lineterminator="\r\n").writerows(rows)
    return text.getvalue().encode()


def _cell(value: object) -> object:
    """A cell as text; one that a spreadsheet would work out gets an apostrophe before it.

    >>> _cell(True), _cell(-1.5), _cell("=1+1"), _cell("swing 7")
    ('true', -1.5, "'=1+1", 'swing 7')
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str) and value.startswith(_FORMULA):
        return f"'{value}"
    return value
