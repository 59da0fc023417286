"""Every text that a player may read, in English: ``python -m tests.languages.english CODE``.

Prints what the file of a language lacks, as entries to fill in and paste into it.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import dataclass
from importlib import resources
from pathlib import Path

from babel.messages import Catalog
from babel.messages.extract import extract_from_file
from babel.messages.pofile import read_po

import service
from service.analysis.faults import CATALOGUE, CAUTIONS, MEASURES
from service.analysis.pose.points import Point
from service.api.names import REASONS, REMARKS
from service.lessons.telling.texts import TEXTS

_HOUSE = Path(service.__file__).parent
_ROOMS = ("archive", "film", "intake", "languages", "lessons", "report", "use_cases")
_SAID = {"say": None, "sayable": None, "many": (1, 2)}


@dataclass(frozen=True)
class Text:
    """One text: where it is said, the English (with its plural, if any) and its context."""

    key: str
    english: str | tuple[str, str]
    context: str | None = None

    def translated(self, catalog: Catalog) -> tuple[str, ...]:
        """What a language has for it, one text a plural form; empty ones where it has none."""
        message = catalog.get(self.english, self.context)
        told = message.string if message is not None else ""
        return tuple(told) if isinstance(told, (list, tuple)) else (told,)

    @property
    def entry(self) -> str:
        """The entry to fill in."""
        lines = [f"#. {self.key}"]
        if self.context:
            lines.append(f"msgctxt {_quoted(self.context)}")
        one, *more = (self.english,) if isinstance(self.english, str) else self.english
        lines.append(f"msgid {_quoted(one)}")
        if more:
            lines += [f"msgid_plural {_quoted(more[0])}", 'msgstr[0] ""', 'msgstr[1] ""']
        else:
            lines.append('msgstr ""')
        return "\n".join(lines)


def catalog_of(code: str) -> Catalog:
    """The file of a language."""
    with (resources.files("service.languages") / f"{code}.po").open("rb") as file:
        return read_po(file, locale=code)


def english_texts() -> list[Text]:
    """Each text once, those of the catalogue under the name of their field."""
    texts: dict[tuple[str | tuple[str, str], str | None], Text] = {}
    for text in (*_of_faults(), *_of_code(), *_in_source()):
        texts.setdefault((text.english, text.context), text)
    return list(texts.values())


def missing(catalog: Catalog) -> list[Text]:
    """What the file of a language lacks."""

    return [text for text in english_texts() if not all(text.translated(catalog))]


def _of_faults() -> Iterator[Text]:
    for name, definition in CATALOGUE.items():
        yield Text(f"{name}.title", definition.title)
        yield Text(f"{name}.description", definition.description)
        for number, cause in enumerate(definition.causes):
            yield Text(f"{name}.causes[{number}]", cause)
        yield Text(f"{name}.checkpoint", definition.checkpoint)
        yield Text(f"{name}.kept", definition.kept)
        for number, caution in enumerate(definition.cautions):
            yield Text(f"{name}.cautions[{number}]", caution)
        yield Text(f"{name}.effect", TEXTS[name].effect)
        yield Text(f"{name}.dose", TEXTS[name].dose)
        for view, sign in TEXTS[name].gone.items():
            yield Text(f"{name}.gone[{view}]", sign)
    for number, caution in enumerate(CAUTIONS):
        yield Text(f"cautions[{number}]", caution)
    for name, definition in CATALOGUE.items():
        for criterion in (c for criteria in definition.criteria.values() for c in criteria):
            yield Text(f"{name} {criterion.measure.name}.reference", criterion.reference)
            if criterion.note is not None:
                yield Text(f"{name} {criterion.measure.name}.note", criterion.note)
    for measure in MEASURES:
        yield Text(f"measure {measure.name}.title", measure.title)
        yield Text(f"measure {measure.name}.description", measure.description)
        yield Text(f"measure {measure.name}.unit", measure.unit)


def _of_code() -> Iterator[Text]:
    for point in Point:
        yield Text(f"point {point.name}", point.label)
    for code in REASONS:
        yield Text(f"reason {code}", code, "reason")
    for code in REMARKS:
        yield Text(f"remark {code}", code, "remark")
        yield Text(f"fix {code}", code, "fix")


def _in_source() -> Iterator[Text]:
    files = [(path, "python") for room in _ROOMS for path in sorted((_HOUSE / room).rglob("*.py"))]
    files += [(path, "jinja2.ext:babel_extract") for path in sorted(_HOUSE.rglob("*.html"))]
    for path, method in files:
        for line, english, _, _ in extract_from_file(method, path, keywords=_SAID):
            yield Text(f"{path.relative_to(_HOUSE)}:{line}", english)


def _quoted(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n")
    return f'"{escaped}"'


if __name__ == "__main__":
    print("\n\n".join(text.entry for text in missing(catalog_of(sys.argv[1]))))
