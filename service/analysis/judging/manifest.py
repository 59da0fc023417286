"""What training says of the models it wrote, checked before any of it is believed."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator, Mapping
from hashlib import sha256
from math import isfinite
from typing import Any, Final

from service.analysis.types import View

MANIFEST: Final[str] = "manifest.json"
_HASH: Final = re.compile(r"[0-9a-f]{64}")
_FILE: Final = re.compile(r"[A-Za-z0-9_][A-Za-z0-9_.-]*\.onnx")
_VIEWS: Final[frozenset[str]] = frozenset(view.value for view in View)

_Rule = tuple[str, Callable[[Any], bool]]
"""What a value must be, in words and as a check."""


class ModelError(Exception):
    """A model can't be used: it is missing, broken or reads features that there are not.

    Raised for a whole folder when no model in it can be used.
    """


class ManifestError(ModelError):
    """The manifest does not fit its schema; the message says where and what is missing."""


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and isfinite(value)


def _is_text(value: Any) -> bool:
    return isinstance(value, str) and value != ""


def _is_list_of(each: Callable[[Any], bool]) -> Callable[[Any], bool]:
    return lambda value: isinstance(value, list) and all(map(each, value))


_TEXT: Final[_Rule] = ("a text", _is_text)
_NUMBER: Final[_Rule] = ("a number", _is_number)
_NAMES: Final[_Rule] = ("a list of names", _is_list_of(_is_text))
_NUMBERS: Final[_Rule] = ("a list of numbers", _is_list_of(_is_number))
_LIST: Final[_Rule] = ("a list of objects", _is_list_of(lambda value: isinstance(value, dict)))
_VIEW: Final[_Rule] = (f"one of {', '.join(sorted(_VIEWS))}", _VIEWS.__contains__)
_SURE: Final[_Rule] = (
    "a chance from 0.5 to below 1",
    lambda value: _is_number(value) and 0.5 <= value < 1.0,
)
_SLOPE: Final[_Rule] = ("a number from 0", lambda value: _is_number(value) and value >= 0.0)
_RISING: Final[_Rule] = ("a number above -1", lambda value: _is_number(value) and value > -1.0)
_SHARE: Final[_Rule] = (
    "a number from 0 to 1",
    lambda value: _is_number(value) and 0.0 <= value <= 1.0,
)

_WIDTH: Final[_Rule] = (
    "a number above 0 and up to 1",
    lambda value: _is_number(value) and 0.0 < value <= 1.0,
)

_REACH: Final[_Rule] = (
    "two numbers, the smaller first",
    lambda value: _is_list_of(_is_number)(value) and len(value) == 2 and value[0] < value[1],
)
_MAY_LACK: Final = frozenset({"reach"})
"""What manifests written before lack."""

_WHOLE: Final[Mapping[str, _Rule]] = {
    "version": _TEXT,
    "trained": _TEXT,
    "data": _TEXT,
    "calibrations": _LIST,
    "ranges": _LIST,
    "estimators": _LIST,
}
_ENTRIES: Final[Mapping[str, Mapping[str, _Rule]]] = {
    "calibrations": {
        "fault": _TEXT,
        "view": _VIEW,
        "slope": _SLOPE,
        "surest_absent": _SURE,
        "surest_present": _SURE,
    },
    "ranges": {
        "view": _VIEW,
        "most": _NUMBER,
        "columns": _NAMES,
        "low": _NUMBERS,
        "high": _NUMBERS,
    },
    "estimators": {
        "measure": _TEXT,
        "view": _VIEW,
        "file": (
            "a name that ends in .onnx, without a folder",
            lambda value: isinstance(value, str) and bool(_FILE.fullmatch(value)),
        ),
        "sha256": (
            "the SHA-256 of the file, 64 hexadecimal digits",
            lambda value: isinstance(value, str) and bool(_HASH.fullmatch(value)),
        ),
        "slope": _RISING,
        "center": _NUMBER,
        "weight": _SHARE,
        "width": _WIDTH,
        "reach": _REACH,
        "features": _TEXT,
        "columns": _NAMES,
        "low": _NUMBERS,
        "high": _NUMBERS,
    },
}


def read_manifest(text: bytes) -> dict[str, Any]:
    """The manifest, once it fits the schema.

    Raises
    ------
    ManifestError
        When it is not JSON, or lacks something, or something in it is not what it must be.
    """
    try:
        manifest = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise ManifestError(f"{MANIFEST} is not JSON ({error})") from None
    if not isinstance(manifest, dict):
        raise ManifestError(f"{MANIFEST} is not an object")
    _check(manifest, _WHOLE, "")
    for name, rules in _ENTRIES.items():
        for number, entry in enumerate(manifest[name]):
            _check(entry, rules, f"/{name}/{number}")
    return manifest


def hash_of(model: bytes) -> str:
    """The hash by which a file of the folder is known to be the one that training wrote.

    >>> hash_of(b"")[:12]
    'e3b0c44298fc'
    """
    return sha256(model).hexdigest()


def _check(entry: Mapping[str, Any], rules: Mapping[str, _Rule], place: str) -> None:
    for problem in _problems(entry, rules):
        raise ManifestError(f"{MANIFEST} does not fit its schema: {place}/{problem}")


def _problems(entry: Mapping[str, Any], rules: Mapping[str, _Rule]) -> Iterator[str]:
    for name, (words, fits) in rules.items():
        if name not in entry:
            if name not in _MAY_LACK:
                yield f"{name} is missing; it must be {words}"
        elif not fits(entry[name]):
            yield f"{name} must be {words}"
    yield from (f"{name} is unknown" for name in entry.keys() - rules.keys())
    if "low" in rules and len({len(entry[name]) for name in ("columns", "low", "high")}) > 1:
        yield "columns, low and high must be as many"
