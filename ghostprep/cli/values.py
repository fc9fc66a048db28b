"""Values of options as click reads them."""

from __future__ import annotations

import re
from collections.abc import Callable

import click


class Text(click.ParamType[object]):
    """A value that is read by a function which raises ValueError where the text is none."""

    def __init__(self, read: Callable[[str], object], name: str) -> None:
        self._read = read
        self.name = name

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> object:
        """Return what the text says; what is no text has been read already."""
        if not isinstance(value, str):
            return value
        try:
            return self._read(value)
        except ValueError as error:
            self.fail(str(error), param, ctx)


def length_in(text: str, units: str, *, where: str) -> float:
    """Return the millimetres of a length as people write it; without a unit it is in `units`.

    Raises
    ------
    InputError
        It is no length.
    """
    from ghostprep.errors import InputError
    from ghostprep.scene import parse_length

    bare = re.fullmatch(r"[\d\s./-]+", text.strip()) is not None
    try:
        return parse_length(f"{text} {units}" if bare else text, units)
    except ValueError as error:
        raise InputError(str(error), where=where) from None
