"""Lengths and directions in the builder's words."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from ghostprep.scene import MM_PER, format_length, parse_length, rounded_up

LEAST_MM: Final = 0.05
"""A shorter way is not worth a word."""
_MOST_MORE: Final = 12
"""Digits that tell two figures apart, beyond those asked for."""


@dataclass(frozen=True, slots=True)
class Words:
    """How lengths are written for one builder."""

    units: str
    """mm, cm or in."""

    def __call__(self, length_mm: float) -> str:
        """Return a length as it was computed."""
        return format_length(length_mm, self.units)

    def real(self, length_mm: float) -> str:
        """Return a full-size length: metres, or feet and inches."""
        if self.units != "in":
            metres = length_mm / 1000
            return f"{metres:.2f} m" if metres < 10 else f"{metres:.0f} m"
        feet, rest = divmod(round(length_mm / MM_PER["in"]), 12)
        return f"{feet} ft" + (f" {rest} in" if rest and feet < 20 else "")

    def real_at_most(self, length_mm: float) -> str:
        """Return a full-size length, rounded down."""
        step = MM_PER["in" if self.units == "in" else "cm"]
        return self.real(math.floor(length_mm / step + 1e-9) * step)

    def told(self, length_mm: float) -> float:
        """Return a length as it reads once written, mm: what is tried is what is told."""
        return parse_length(self(length_mm))

    def fine(self, length_mm: float) -> str:
        """Return a small length, such as the thickness of a film."""
        return f"{length_mm / MM_PER['in']:.3f} in" if self.units == "in" else f"{length_mm:.2f} mm"

    def cut(self, length_mm: float) -> str:
        """Return a length to cut: up to the next whole millimetre or 1/16 inch."""
        return format_length(rounded_up(length_mm, self.units), self.units)

    def point(self, xyz: Iterable[float]) -> str:
        """Return a point as the scene file takes it."""
        per, places = MM_PER[self.units], {"mm": 1, "cm": 2, "in": 3}[self.units]
        return "[" + ", ".join(f"{round(float(v) / per, places) + 0.0:g}" for v in xyz) + "]"

    def size(self, sides_mm: Sequence[float]) -> str:
        """Return sides to cut, joined by "x"."""
        return " x ".join(self.cut(s) for s in sides_mm)

    def fit(self, sides_mm: Sequence[float]) -> str:
        """Return sides with their clearance, joined by "x"; not rounded up further but for inches."""
        return self.size(sides_mm) if self.units == "in" else " x ".join(self(s) for s in sides_mm)

    def offset(self, way: Iterable[float]) -> str:
        """Return a way in the scene as "3 mm to the right and 2 mm deeper"."""
        names = (("to the right", "to the left"), ("up", "down"), ("deeper", "nearer to the opening"))
        parts = [
            f"{self(abs(v))} {plus if v > 0 else minus}"
            for v, (plus, minus) in zip(way, names, strict=True)
            if abs(v) > LEAST_MM
        ]
        return " and ".join(parts) if parts else "nowhere"


def shown(value: float, digits: int, rounded: Callable[[float], float] = round) -> str:
    """Return a figure of 0 or more to some significant digits, never with an exponent.

    >>> shown(1234.5, 2), shown(0.04567, 3, math.floor)
    ('1200', '0.0456')
    """
    if value <= 0:
        return "0"
    last = math.floor(math.log10(value)) + 1 - digits
    text = f"{rounded(value / 10**last) * 10**last:.{max(0, -last)}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def reaching(limit: float, now: float, digits: int) -> tuple[str, str]:
    """Return a figure to reach, rounded away from what it is now so that it does reach, and what it is now.

    >>> reaching(7.4968, 20, 3)
    ('7.49', '20')
    """
    rounded = math.ceil if limit > now else math.floor
    pairs = ((shown(limit, n, rounded), shown(now, n)) for n in range(digits, digits + _MOST_MORE))
    return next((pair for pair in pairs if pair[0] != pair[1]), (f"{limit:g}", f"{now:g}"))


def the(name: str) -> str:
    """Return the name of what stands in the box as it stands in a sentence.

    >>> the("pane"), the("divider 1"), the("the room")
    ('the pane', 'divider 1', 'the room')
    """
    return name if re.match(r"(divider|mirror|lamp|strip) \d+$|the ", name) else f"the {name}"


def apart(first: float, second: float, form: str) -> tuple[str, str]:
    """Return two figures in a form such as ".2f", with as many more digits as it takes to tell them apart."""
    digits, kind = int(form[1:-1]), form[-1]
    texts = ((f"{first:.{n}{kind}}", f"{second:.{n}{kind}}") for n in range(digits, digits + _MOST_MORE))
    return next((pair for pair in texts if pair[0] != pair[1]), (f"{first:{form}}", f"{second:{form}}"))


def listed(items: Sequence[str], last: str = "and") -> str:
    """Return "a", "a and b" or "a, b and c", or the same with another word before the last."""
    if len(items) < 2:
        return "".join(items)
    return ", ".join(items[:-1]) + f" {last} {items[-1]}"
