"""What a script gives is held to the types with which parameters and settings are annotated."""

from __future__ import annotations

import inspect
import re
from collections.abc import Callable, Mapping, Sequence
from fractions import Fraction
from functools import cache, wraps
from importlib import import_module
from numbers import Integral, Rational, Real
from reprlib import repr as short
from types import SimpleNamespace, UnionType
from typing import Any, Literal, ParamSpec, TypeVar, Union, get_args, get_origin, get_type_hints

from ghostprep.errors import InputError
from ghostprep.words import range_words

Given = ParamSpec("Given")
Got = TypeVar("Got")

_NUMBERS = {int: Integral, Fraction: Rational, float: Real}


def fits(value: object, kind: Any) -> bool:
    """Return whether a value is of an annotated type; whole numbers are numbers, True and False are not.

    >>> fits(4, float | None), fits(True, int), fits((6, 10), tuple[float, float]), fits("x", Literal["y"])
    (True, False, True, False)
    """
    origin, inside = get_origin(kind), get_args(kind)
    if origin in (Union, UnionType):
        return any(fits(value, one) for one in inside)
    if origin is Literal:
        return value in inside
    if origin is Sequence or (origin is tuple and inside[-1] is Ellipsis):
        return isinstance(value, origin) and all(fits(one, inside[0]) for one in value)
    if origin is tuple:
        return (
            isinstance(value, tuple)
            and len(value) == len(inside)
            and all(fits(one, wanted) for one, wanted in zip(value, inside, strict=True))
        )
    if kind in _NUMBERS:
        return isinstance(value, _NUMBERS[kind]) and not isinstance(value, bool)
    if getattr(kind, "_is_protocol", False):
        return callable(value)
    return isinstance(value, origin or kind)


def check_settings(settings: object, called: Callable[[str], str] = str, remedy: str = "") -> None:
    """Hold a dataclass's fields to their types; `called` turns a field's name into what the error calls it.

    Raises
    ------
    InputError
        With the first field that is of another type.
    """
    made: Callable[..., object] = type(settings)
    for name, kind in _types_of(made).items():
        _check(getattr(settings, name), kind, called(name), remedy)


def checked(function: Callable[Given, Got]) -> Callable[Given, Got]:
    """Return a function that holds its arguments to their types, and raises InputError for another one."""

    @wraps(function)
    def called(*args: Given.args, **kwargs: Given.kwargs) -> Got:
        given = inspect.signature(function).bind(*args, **kwargs).arguments
        for name, value in given.items():
            _check(value, _types_of(function)[name], name)
        return function(*args, **kwargs)

    return called


def check_times(times: tuple[float, float], name: str) -> None:
    """Hold a range's shortest and longest time, seconds, to 0 < shortest <= longest; InputError where not."""
    shortest, longest = times
    said = range_words(shortest, longest)
    if not shortest > 0:
        part = "it" if said == f"{shortest:g}" else "its MIN"
        raise InputError(f"is {said}, {part} must be above 0 s", where=name)
    if not shortest <= longest:
        raise InputError(f"is {said}, its MIN must be no more than its MAX", where=name)


def _check(value: object, kind: Any, name: str, remedy: str = "") -> None:
    if not fits(value, kind):
        raise InputError(f"is {short(value)}, it must be {_named(kind)}", where=name, remedy=remedy)


def _named(kind: Any) -> str:
    """Return a type as a script writes it.

    >>> _named(tuple[float, float] | None), _named(Literal["none", "keep"]), _named(Fraction | None)
    ('tuple[float, float] or None', "one of 'none', 'keep'", 'Fraction or None')
    """
    if get_origin(kind) is Literal:
        words = [repr(word) for word in get_args(kind)]
        return words[0] if len(words) == 1 else f"one of {', '.join(words)}"
    if get_origin(kind) in (Union, UnionType):
        return " or ".join(_named(one) for one in get_args(kind))
    if getattr(kind, "_is_protocol", False):
        return "a function"
    if isinstance(kind, type) and not get_args(kind):
        return "None" if kind is type(None) else kind.__name__
    return re.sub(r"\w+\.", "", str(kind))


@cache
def _types_of(owner: Callable[..., object]) -> Mapping[str, Any]:
    """Return the types of a class's fields, or of a function's parameters."""
    told = {name: kind for name, kind in inspect.get_annotations(owner).items() if name != "return"}
    return get_type_hints(SimpleNamespace(__annotations__=told), vars(inspect.getmodule(owner)), _Public())


class _Public(dict[str, Any]):
    """Our public names, for annotations of which the module itself imports nothing when it runs."""

    def __missing__(self, name: str) -> Any:
        public = import_module("ghostprep")
        if name not in public.__all__:
            raise KeyError(name)
        return getattr(public, name)
