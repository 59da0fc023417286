"""One language: its texts, dates, numbers and lists."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from functools import cache
from gettext import NullTranslations
from importlib import resources
from io import BytesIO
from typing import Final

from babel import Locale
from babel.dates import format_date
from babel.lists import format_list
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po
from babel.numbers import format_decimal
from babel.support import Translations

SOURCE: Final[str] = "en"
_ENDING: Final[str] = ".po"
_LOCALES: Final[dict[str, str]] = {SOURCE: "en_GB"}
"""Where the place is not told by the language alone: days before months."""

_NO_NOUNS: Final[Mapping[str, frozenset[str]]] = {
    "de": frozenset({"Bis", "Frühes", "Hastiger", "Unten", "Vorderer", "Zu"})
}
"""First words of titles that have a capital only where a title begins, by the language."""


class Language:
    """What is said in one language.

    Attributes
    ----------
    code : str
        As in ``Content-Language`` (RFC 9110): ``en``, ``de``.
    translations
        What :mod:`gettext` needs.
    """

    def __init__(self, code: str, translations: NullTranslations) -> None:
        self.code = code
        self.translations = translations
        self._locale = Locale.parse(_LOCALES.get(code, code))

    def say(self, text: str, **parts: object) -> str:
        """An English text in this language, ``{name}`` in it replaced by the part of that name.

        >>> ENGLISH.say("{count} of them", count=2)
        '2 of them'
        """
        told = self.translations.gettext(text)
        return told.format(**parts) if parts else told

    def many(self, one: str, more: str, count: int, **parts: object) -> str:
        """One of two English texts, or whichever this language has for the count.

        >>> ENGLISH.many("{count} swing", "{count} swings", 2)
        '2 swings'
        """
        return self.translations.ngettext(one, more, count).format(count=count, **parts)

    def by_code(self, kind: str, code: str, english: str) -> str:
        """What a stable code stands for; the English sentence where this language has none.

        Parameters
        ----------
        kind
            The context under which the file has it, such as ``reason``.
        """
        told = self.translations.pgettext(kind, code)
        return english if told == code else told

    def in_sentence(self, title: str) -> str:
        """A title for the middle of a sentence: English takes its capital off, German does unless
        it is that of a noun.

        >>> ENGLISH.in_sentence("Arms lifting")
        'arms lifting'
        """
        told = self.say(title)
        small = self.code == SOURCE or told.split(" ", 1)[0] in _NO_NOUNS.get(self.code, ())
        return told[:1].lower() + told[1:] if small else told

    def number(self, value: float, decimals: int) -> str:
        """A number with its decimals and a real minus sign.

        >>> ENGLISH.number(-2.84, 1)
        '−2.8'
        """
        # Adding nothing takes the sign off a negative zero.
        rounded = round(value, decimals) + 0.0
        pattern = "0." + "0" * decimals if decimals else "0"
        told = format_decimal(rounded, format=pattern, locale=self._locale)
        return str(told).replace("-", "\N{MINUS SIGN}")

    def count(self, number: int) -> str:
        """How many, thousands apart.

        >>> ENGLISH.count(12345)
        '12,345'
        """
        return str(format_decimal(number, format="#,##0", locale=self._locale))

    def long_date(self, day: date) -> str:
        """A day in words.

        >>> ENGLISH.long_date(date(2025, 5, 20))
        '20 May 2025'
        """
        return format_date(day, "long", self._locale)

    def short_date(self, day: date) -> str:
        """A day where there is little room.

        >>> ENGLISH.short_date(date(2025, 5, 20))
        '20 May 25'
        """
        return format_date(day, self.say("d MMM yy"), self._locale)

    def listed(self, words: Sequence[str], *, either: bool = False) -> str:
        """Words as a list, of all or of ``either`` one.

        >>> ENGLISH.listed(["a", "b", "c"]), ENGLISH.listed(["a", "b"], either=True)
        ('a, b and c', 'a or b')
        """
        return format_list(words, "or" if either else "standard", self._locale)


def sayable(text: str) -> str:
    """The same text, marked as one that is said by a variable somewhere else."""
    return text


@cache
def language(code: str) -> Language:
    """A language by its code, one of :data:`CODES`.

    Raises
    ------
    FileNotFoundError
        When there is no such language.
    """
    if code == SOURCE:
        return ENGLISH
    text = (resources.files(__package__) / f"{code}{_ENDING}").read_bytes()
    compiled = BytesIO()
    write_mo(compiled, read_po(BytesIO(text), locale=code))
    compiled.seek(0)
    return Language(code, Translations(compiled))


def _codes() -> tuple[str, ...]:
    files = (entry.name for entry in resources.files(__package__).iterdir())
    others = sorted(name.removesuffix(_ENDING) for name in files if name.endswith(_ENDING))
    return (SOURCE, *others)


ENGLISH: Final = Language(SOURCE, NullTranslations())
CODES: Final[tuple[str, ...]] = _codes()
"""English first, then the languages that have a file."""
