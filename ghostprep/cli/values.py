"""What an option's text may look like: times, sizes, ranges, rates, boxes."""

from __future__ import annotations

import re
from fractions import Fraction

import click

from ghostprep.box import Box


class Time(click.ParamType[Fraction]):
    """Seconds (``8``, ``7.5``) or ``h:mm:ss`` (``1:02:03.5``, ``2:30``)."""

    name = "T"

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> Fraction:
        """Return the time in seconds."""
        if isinstance(value, Fraction):
            return value
        text = str(value).strip()
        found = re.fullmatch(r"(?:(?:(\d{1,4}):)?(\d{1,2}):)?(\d{1,6}(?:\.\d{1,9})?)", text)
        if not found:
            self.fail(f"{text!r} is not a time: write seconds (7.5) or h:mm:ss (0:02:30)", param, ctx)
        hours, minutes, seconds = found.groups()
        return Fraction(hours or 0) * 3600 + Fraction(minutes or 0) * 60 + Fraction(seconds)


class TimeRange(click.ParamType[tuple[float, float]]):
    """One time, or ``MIN-MAX``."""

    name = "T or MIN-MAX"

    def convert(
        self, value: object, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[float, float]:
        """Return the shortest and the longest length in seconds."""
        if isinstance(value, tuple):
            return value
        parts = str(value).split("-")
        if len(parts) not in {1, 2}:
            self.fail(f"{value!r} is not a length: write 8 or 6-10", param, ctx)
        times = [float(Time().convert(part, param, ctx)) for part in parts]
        return times[0], times[-1]


class Size(click.ParamType[tuple[int, int]]):
    """``WxH`` in pixels."""

    name = "WxH"

    def convert(
        self, value: object, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[int, int]:
        """Return width and height."""
        if isinstance(value, tuple):
            return value
        found = re.fullmatch(r"(\d{1,5})[xX](\d{1,5})", str(value).strip())
        if not found:
            self.fail(f"{value!r} is not a size: write it as 320x240", param, ctx)
        return int(found[1]), int(found[2])


class Rate(click.ParamType[Fraction]):
    """Frames a second, whole, decimal or as a fraction."""

    name = "RATE"

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> Fraction:
        """Return the rate; 29.97 and its kin mean the exact broadcast rates."""
        if isinstance(value, Fraction):
            return value
        text = str(value).strip()
        exact = {"23.976": "24000/1001", "23.98": "24000/1001", "29.97": "30000/1001", "59.94": "60000/1001"}
        found = re.fullmatch(r"\d{1,6}(?:\.\d{1,6}|/[1-9]\d{0,5})?", exact.get(text, text))
        if not found:
            self.fail(f"{text!r} is not a rate: write 25 or 30000/1001", param, ctx)
        return Fraction(exact.get(text, text))


class CropBox(click.ParamType[Box]):
    """``auto``, ``none`` or ``WxH+X+Y`` in source pixels."""

    name = "auto|none|WxH+X+Y"

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> Box | str:  # type: ignore[override]
        """Return the word or the box."""
        if isinstance(value, Box) or value in {"auto", "none"}:
            return value
        found = re.fullmatch(r"(\d{1,5})[xX](\d{1,5})\+(\d{1,5})\+(\d{1,5})", str(value).strip())
        if not found or not int(found[1]) or not int(found[2]):
            self.fail(f"{value!r} is not a box: write auto, none or 640x480+100+0", param, ctx)
        width, height, x, y = (int(group) for group in found.groups())
        return Box(x, y, width, height)


class AutoOr(click.ParamType[object]):
    """``auto``, or a number of the given kind."""

    def __init__(self, kind: type[int] | type[float], name: str) -> None:
        self._kind = kind
        self.name = name

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> object:
        """Return ``"auto"`` or the number."""
        if value == "auto":
            return value
        try:
            return self._kind(str(value))
        except ValueError:
            self.fail(f"{value!r} is neither auto nor a number", param, ctx)


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
