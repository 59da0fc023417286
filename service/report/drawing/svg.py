"""SVG elements, text that fits, and the colours of the pictures."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import Final
from xml.etree import ElementTree
from xml.etree.ElementTree import Element

from service.analysis.types import FloatArray

INK: Final[str] = "#1b1f24"
MUTED: Final[str] = "#57606a"
FAINT: Final[str] = "#868f99"
PAPER: Final[str] = "#ffffff"
PANEL: Final[str] = "#f6f8fa"
LEAD: Final[str] = "#0b3d91"
TRAIL: Final[str] = "#b34700"
MARK: Final[str] = "#b00058"
ANGLE: Final[str] = "#0a6640"
"""Text has a contrast of at least 4.5 to what is behind it, lines at least 3 (WCAG 2.1, success
criteria 1.4.3 and 1.4.11)."""
BAND: Final[str] = "#c5d6f2"
TINT: Final[str] = "#fbe9f1"
"""Backgrounds: text on them has that contrast too."""

Pair = tuple[float, float] | FloatArray
"""A place in a picture: x and y, an array of shape (2,) or a tuple."""
Style = dict[str, str | float]

_FONT = "system-ui, 'DejaVu Sans', Arial, sans-serif"
_LETTER = 0.53
_BOLD_LETTER = 0.62
"""Mean widths of a letter over the font size, measured on DejaVu Sans, the widest usual font."""


def picture(width: float, height: float, title: str, description: str) -> Element:
    """Root of a self-contained picture with a title and description for screen readers."""
    root = Element(
        "svg",
        {
            "xmlns": "http://www.w3.org/2000/svg",
            "viewBox": f"0 0 {_number(width)} {_number(height)}",
            "width": _number(width),
            "height": _number(height),
            "role": "img",
            "font-family": _FONT,
        },
    )
    add(root, "title", title)
    add(root, "desc", description)
    add(root, "rect", width=width, height=height, fill=PAPER)
    return root


def add(
    parent: Element,
    tag: str,
    text: str | None = None,
    style: Style | None = None,
    **attributes: str | float,
) -> Element:
    """Append an element; ``stroke_width=2`` becomes ``stroke-width="2"``.

    ``attributes`` go before ``style``.
    """
    named = {
        name.replace("_", "-"): value if isinstance(value, str) else _number(value)
        for name, value in {**(style or {}), **attributes}.items()
    }
    element = ElementTree.SubElement(parent, tag, named)
    element.text = text
    return element


def write(parent: Element, x: float, y: float, text: str, **attributes: str | float) -> Element:
    """One line of text with its baseline at ``y``."""
    usual: Style = {"font_size": 13, "fill": INK}
    return add(parent, "text", text, usual, x=x, y=y, **attributes)


def wrap(text: str, width: float, font_size: float, *, bold: bool = False) -> list[str]:
    """Break a sentence into lines that fit a width, whichever usual font is there."""
    letters = int(width / text_width("x", font_size, bold=bold))
    return textwrap.wrap(text, letters, break_on_hyphens=False)


def text_width(text: str, font_size: float, *, bold: bool = False) -> float:
    """Room that a text needs, whichever usual font is there."""
    return (_BOLD_LETTER if bold else _LETTER) * font_size * len(text)


def fitting_size(text: str, width: float, font_size: float, *, bold: bool = False) -> float:
    """The font size, made smaller where a text would not fit a width in one line.

    >>> fitting_size("short", 400.0, 13.0)
    13.0
    """
    return min(font_size, font_size * width / text_width(text, font_size, bold=bold))


def shift(x: float, y: float) -> str:
    """The transform that moves the origin."""
    return f"translate({_pair((x, y))})"


def badge(parent: Element, x: float, y: float, text: str) -> None:
    """A short text in a disc."""
    add(parent, "circle", cx=x, cy=y, r=10, fill=MARK)
    write(
        parent, x, y + 4.5, text, font_size=12, font_weight="bold", fill=PAPER, text_anchor="middle"
    )


def lines(
    parent: Element,
    pairs: Sequence[tuple[Pair, Pair]],
    style: Style | None = None,
    **attributes: str | float,
) -> None:
    """Separate straight lines as one path; nothing at all without any."""
    if pairs:
        d = " ".join(f"M{_pair(start)} L{_pair(end)}" for start, end in pairs)
        add(parent, "path", None, style, d=d, fill="none", **attributes)


def as_text(root: Element) -> str:
    """The picture as SVG text."""
    ElementTree.indent(root, " ")
    return ElementTree.tostring(root, encoding="unicode") + "\n"


def _pair(point: Pair) -> str:
    return f"{_number(point[0])} {_number(point[1])}"


def _number(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")
