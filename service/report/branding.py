"""An academy's own name, colour and logo on its pages."""

from __future__ import annotations

import re
from base64 import b64encode
from dataclasses import dataclass
from pathlib import Path
from typing import Final

LARGEST_LOGO: Final[int] = 150_000
"""Bytes of a logo's file: a page stays under 500 kB with it."""
_COLOUR: Final = re.compile(r"#[0-9a-fA-F]{6}")
_LOGOS: Final = ((b"\x89PNG\r\n\x1a\n", "image/png"), (b"\xff\xd8\xff", "image/jpeg"))
"""How a file begins, and what it then is. No SVG: one may hold scripts or ask for more."""
_READABLE: Final[float] = 4.5
"""Least contrast of a text to what is behind it (WCAG 2.1, success criterion 1.4.3)."""
_WHITE: Final = (255, 255, 255)

Rgb = tuple[int, int, int]


class UnusableLogo(ValueError):
    """Raised where the logo can't be read, is too large or of another kind."""


@dataclass(frozen=True)
class Branding:
    """What a page shows of the academy that sends it.

    Attributes
    ----------
    colour
        Of lines and links, ``#rrggbb``, dark enough to be read on white.
    logo
        The image itself as a ``data:`` address.
    """

    name: str | None = None
    colour: str = "#0b3d91"
    logo: str | None = None


def branding_of(name: str | None, colour: str | None, logo: Path | None) -> Branding:
    """The branding that the settings ask for.

    A colour too pale to be read on white is darkened until it can be.

    Raises
    ------
    ValueError
        When the colour is not ``#rrggbb``.
    UnusableLogo
        When the logo is no PNG or JPEG file, or too large.
    """
    plain = Branding()
    return Branding(
        name=name,
        colour=plain.colour if colour is None else readable(colour),
        logo=None if logo is None else _embedded(logo),
    )


def readable(colour: str) -> str:
    """A colour, darkened as little as it takes to be read on white.

    >>> readable("#0b3d91"), readable("#ffd400")
    ('#0b3d91', '#8c7400')

    Raises
    ------
    ValueError
        When it is not ``#rrggbb``.
    """
    if not _COLOUR.fullmatch(colour):
        raise ValueError(f"{colour!r} is no colour: send six hex digits after #, as in #0b3d91.")
    red, green, blue = (int(colour[i : i + 2], 16) for i in (1, 3, 5))
    for share in range(100, -1, -1):
        shade = (red * share // 100, green * share // 100, blue * share // 100)
        if contrast(shade, _WHITE) >= _READABLE:
            break
    return "#{:02x}{:02x}{:02x}".format(*shade)


def contrast(one: Rgb, other: Rgb) -> float:
    """Contrast ratio of two colours, 1 to 21 (WCAG 2.1, relative luminance).

    >>> contrast((0, 0, 0), (255, 255, 255))
    21.0
    """
    light, dark = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def _luminance(colour: Rgb) -> float:
    red, green, blue = (_linear(channel / 255.0) for channel in colour)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def _linear(channel: float) -> float:
    return channel / 12.92 if channel <= 0.04045 else ((channel + 0.055) / 1.055) ** 2.4


def _embedded(logo: Path) -> str:
    try:
        if logo.stat().st_size > LARGEST_LOGO:
            raise UnusableLogo(f"{logo} is larger than {LARGEST_LOGO} bytes; scale it down.")
        content = logo.read_bytes()
    except OSError as error:
        raise UnusableLogo(f"{logo} can't be read: {error.strerror}.") from None
    kind = next((kind for start, kind in _LOGOS if content.startswith(start)), None)
    if kind is None:
        raise UnusableLogo(f"{logo} is neither a PNG nor a JPEG file.")
    return f"data:{kind};base64,{b64encode(content).decode()}"
