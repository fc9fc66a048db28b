"""What an option's text may look like. Each reader raises ValueError that says what to write."""

from __future__ import annotations

import re
from collections.abc import Callable
from fractions import Fraction
from typing import Literal

from ghostprep.box import Box

_EXACT = {"23.976": "24000/1001", "23.98": "24000/1001", "29.97": "30000/1001", "59.94": "60000/1001"}
"""Decimal rates that mean the broadcast rates, which are fractions."""


def time(text: str) -> Fraction:
    """Return the seconds of a time: seconds, or h:mm:ss.

    >>> time("7.5"), time("2:30"), time("1:02:03")
    (Fraction(15, 2), Fraction(150, 1), Fraction(3723, 1))
    """
    found = re.fullmatch(r"(?:(?:(\d{1,4}):)?(\d{1,2}):)?(\d{1,6}(?:\.\d{1,9})?)", text.strip())
    if not found:
        raise ValueError(f"{text!r} is not a time: write seconds (7.5) or h:mm:ss (0:02:30)")
    hours, minutes, seconds = found.groups()
    return Fraction(hours or 0) * 3600 + Fraction(minutes or 0) * 60 + Fraction(seconds)


def seconds(text: str) -> float:
    """Return a time in seconds as a plain number.

    >>> seconds("0.4")
    0.4
    """
    return float(time(text))


def number(text: str) -> float:
    """Return a number.

    >>> number("2.5")
    2.5
    """
    try:
        return float(text)
    except ValueError:
        raise ValueError(f"{text!r} is not a number") from None


def whole(text: str) -> int:
    """Return a whole number.

    >>> whole("90")
    90
    """
    try:
        return int(text)
    except ValueError:
        raise ValueError(f"{text!r} is not a whole number") from None


def time_range(text: str) -> tuple[float, float]:
    """Return the shortest and the longest of ``MIN-MAX``, or one time twice; seconds.

    >>> time_range("6-10"), time_range("8")
    ((6.0, 10.0), (8.0, 8.0))
    """
    parts = text.split("-")
    if len(parts) > 2 or not all(map(str.strip, parts)):
        raise ValueError(f"{text!r} is not a length: write 8 or 6-10")
    return seconds(parts[0]), seconds(parts[-1])


def size(text: str) -> tuple[int, int]:
    """Return width and height in pixels.

    >>> size("320x240")
    (320, 240)
    """
    found = re.fullmatch(r"(\d{1,5})[xX](\d{1,5})", text.strip())
    if not found:
        raise ValueError(f"{text!r} is not a size: write it as 320x240")
    return int(found[1]), int(found[2])


def rate(text: str) -> Fraction:
    """Return frames a second; 29.97 and its kin mean the exact broadcast rates.

    >>> rate("29.97"), rate("25")
    (Fraction(30000, 1001), Fraction(25, 1))
    """
    text = text.strip()
    exact = _EXACT.get(text, text)
    found = re.fullmatch(r"\d{1,6}(?:\.\d{1,6}|/(\d{1,6}))?", exact)
    if not found:
        raise ValueError(f"{text!r} is not a rate: write 25 or 30000/1001")
    if found[1] and not int(found[1]):
        raise ValueError(f"{text!r} is not a rate: nothing can be divided by {found[1]}")
    return Fraction(exact)


def crop(text: str) -> Box | Literal["auto", "none"]:
    """Return the word, or the box in source pixels.

    >>> crop("640x480+100+0")
    Box(x=100, y=0, width=640, height=480)
    """
    if text in {"auto", "none"}:
        return "auto" if text == "auto" else "none"
    found = re.fullmatch(r"(\d{1,5})[xX](\d{1,5})\+(\d{1,5})\+(\d{1,5})", text.strip())
    if not found:
        raise ValueError(f"{text!r} is not a box: write auto, none or 640x480+100+0")
    width, height, x, y = (int(group) for group in found.groups())
    return Box(x, y, width, height)


def colours(text: str) -> tuple[str, ...]:
    """Return the colours of a list with commas.

    >>> colours("#a8d96e, #602818")
    ('#a8d96e', '#602818')
    """
    return tuple(part.strip() for part in text.split(","))


def auto_or(kind: Callable[[str], float]) -> Callable[[str], float | Literal["auto"]]:
    """Return a reader of ``auto`` or a number of the given kind.

    >>> auto_or(whole)("4"), auto_or(number)("auto")
    (4, 'auto')
    """

    def read(text: str) -> float | Literal["auto"]:
        if text == "auto":
            return "auto"
        try:
            return kind(text)
        except ValueError as error:
            raise ValueError(f"{error}, nor auto") from None

    return read
