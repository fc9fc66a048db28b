"""Lengths as builders write them: with a unit, or in the unit of the file; inches as fractions."""

from __future__ import annotations

import math
import re
from fractions import Fraction
from typing import Final, Literal

Units = Literal["mm", "cm", "in"]
MM_PER: Final = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, "ft": 304.8}
"""Millimetres in one of each unit (the inch is 25.4 mm exactly since 1959)."""
_ALSO: Final = {'"': "in", "″": "in", "inch": "in", "inches": "in", "'": "ft", "′": "ft", "feet": "ft"}
_ROUGH: Final = 0.1
"""A length is shown as a fraction of an inch unless that is off by more than this share."""
_NUMBER: Final = r"(?:\d+[ -]\d+/\d+|\d+/\d+|\d+(?:\.\d*)?|\.\d+)"
_TERM: Final = re.compile(rf"\s*({_NUMBER})\s*([a-z]+|[\"'″′])\s*")


def parse_length(value: object, units: str = "mm") -> float:
    """Turn what a builder wrote into millimetres.

    A number is in `units`; a string carries its own: ``"85 mm"``, ``"3 1/2 in"``, ``"5 ft 7 in"``,
    ``"-1/4 in"``.

    Raises
    ------
    ValueError
        It is no length, has no unit or an unknown one, or is not finite.

    Examples
    --------
    >>> parse_length("3 1/2 in")
    88.9
    >>> parse_length(2, "cm")
    20.0
    """
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise ValueError(  # noqa: TRY004 pydantic turns only ValueError into a message of its own
            'must be a length: a number, or a string with its unit such as "85 mm"'
        )
    if not isinstance(value, str):
        return finite(value) * MM_PER[units]
    return _parse_text(value)


def finite(value: float) -> float:
    """Return a number; ValueError: it is infinite, no number, or too large to count with."""
    try:
        number = float(value)
    except OverflowError:
        number = math.inf
    if not math.isfinite(number):
        raise ValueError(f"is {number:g}, but must be a finite number")
    return number


def _parse_text(text: str) -> float:
    body = text.strip().lower()
    sign = -1.0 if body[:1] in {"-", "−"} else 1.0
    body = body.lstrip("+-−").strip()
    total, at = Fraction(0), 0
    while at < len(body):
        term = _TERM.match(body, at)
        if term is None:
            raise ValueError(f'{text!r} is not a length; write it like "85 mm", "1.7 m" or "3 1/2 in"')
        unit = _ALSO.get(term[2], term[2])
        if unit not in MM_PER:
            raise ValueError(f"{text!r} has the unknown unit {term[2]!r}; use {', '.join(MM_PER)}")
        total += _number(term[1]) * Fraction(str(MM_PER[unit]))
        at = term.end()
    if at == 0:
        raise ValueError('is an empty text, but must be a length such as "85 mm"')
    return sign * finite(total)  # type: ignore[arg-type] # a fraction may be too large for a float


def _number(text: str) -> Fraction:
    try:
        return sum((Fraction(part) for part in re.split(r"[ -]", text)), Fraction(0))
    except ZeroDivisionError:
        raise ValueError(f"{text!r} divides by zero") from None


def format_length(value_mm: float, units: str) -> str:
    """Write a length in the builder's unit: to a tenth of a millimetre, inches to the nearest 1/16.

    Examples
    --------
    >>> format_length(88.9, "in")
    '3 1/2 in'
    >>> format_length(0.3, "in")
    '0.012 in'
    >>> format_length(120.04, "mm")
    '120 mm'
    """
    if units == "in":
        return _format_inches(value_mm / MM_PER["in"])
    if units == "cm":
        return f"{_trimmed(value_mm / 10, 2)} cm"
    return f"{_trimmed(value_mm, 1)} mm"


def _trimmed(value: float, places: int) -> str:
    text = f"{value:.{places}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


def _format_inches(inches: float) -> str:
    # a half goes up, whether it came as 2 13/32 or by way of millimetres, which leave a trace of rounding
    sixteenths = math.floor(abs(inches) * 16 + 0.5 + 1e-6)
    if abs(sixteenths / 16 - abs(inches)) > _ROUGH * abs(inches):
        # so short that the nearest fraction would say something else
        return "0 in" if abs(inches) < 5e-4 else f"{inches:.3f} in"
    if sixteenths == 0:
        return "0 in"
    whole, rest = divmod(sixteenths, 16)
    part = Fraction(rest, 16)
    words = [str(whole)] if whole else []
    if part:
        words.append(f"{part.numerator}/{part.denominator}")
    return ("-" if inches < 0 else "") + " ".join(words) + " in"


def ruler_step(units: str) -> float:
    """Return the finest step on a builder's ruler: a millimetre or 1/16 inch, in mm."""
    return MM_PER["in"] / 16 if units == "in" else 1.0


def rounded_up(length_mm: float, units: str) -> float:
    """Return a length to cut, up to the next whole millimetre or 1/16 inch, in mm.

    Examples
    --------
    >>> rounded_up(8.2, "mm")
    9.0
    >>> rounded_up(25.5, "in")
    26.9875
    """
    step = ruler_step(units)
    return round(math.ceil(length_mm / step - 1e-9) * step, 6)
