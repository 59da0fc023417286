"""Numbers in paths, short enough to be numbers."""

from __future__ import annotations

from starlette.convertors import Convertor, register_url_convertor


class CountConvertor(Convertor[int]):
    """A whole number of at most nine digits: ``{number:count}``.

    The framework's own takes any number of digits and fails on those it can't read.
    """

    regex = "[0-9]{1,9}"

    def convert(self, value: str) -> int:
        """The number in a path."""
        return int(value)

    def to_string(self, value: int) -> str:
        """The number as it stands in a path."""
        return str(value)


register_url_convertor("count", CountConvertor())
