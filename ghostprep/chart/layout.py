"""Where each part of the chart lies; all in raster pixels, y up."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

import numpy as np

from ghostprep.arrays import Doubles
from ghostprep.chart.brush import Brush, Colour, Point
from ghostprep.scene import MM_PER

STEPS: Final = (3, 5, 7, 10, 13, 16, 20, 26, 34)
"""Codes of the grey steps, number 1 first: their light is 1/1100 to 1/63 of white's."""
_SIGN: Final = 200
_RULER: Final = 150
_WORDS: Final = 100
"""Codes of the letter, of the rulers, and of words and arrows."""


@dataclass(frozen=True, slots=True)
class _Scale:
    """A ruler's marks: mm from tick to tick, how many make a longer one, and how many one with its number."""

    tick_mm: float
    long: int
    named: int
    per_unit: int

    def word(self, tick: int) -> str:
        whole, rest = divmod(Fraction(tick, self.per_unit), 1)
        return " ".join(str(part) for part in (whole, rest) if part) or "0"


_MILLIMETRES: Final = _Scale(1.0, 5, 10, 1)
_INCHES: Final = _Scale(MM_PER["in"] / 16, 4, 8, 16)


class ChartLayout:
    """Paints the chart's parts: the brush's unit is a raster pixel of the finer `pitch`, in mm."""

    def __init__(self, brush: Brush, pitch: float, units: str = "mm") -> None:
        self._b, self._pitch, self._units = brush, pitch, units
        self._wide, self._high = brush.wide, brush.high
        self._small = min(brush.wide, brush.high)
        self._text = max(0.045 * self._small, 8.0)
        self._left = 0.13 * self._wide  # the ruler that stands up is left of it
        self.orbit_radius = 0.12 * self._small
        self.orbit_centre = (0.78 * self._wide, 0.76 * self._high)

    def sign(self) -> None:
        """Draw a letter F, an arrow up and the ring of the dot, which runs clockwise."""
        b, h = self._b, 0.36 * self._high
        x, y, grey = self._left + 0.06 * self._wide, 0.58 * self._high, _grey(_SIGN)
        t = 0.2 * h
        b.box(round(x), round(y), round(x + t), round(y + h), grey)
        b.box(round(x), round(y + h - t), round(x + 0.72 * h), round(y + h), grey)
        b.box(round(x), round(y + 0.42 * h), round(x + 0.52 * h), round(y + 0.42 * h + t), grey)
        b.ring(*self.orbit_centre, self.orbit_radius, 0.7, _grey(60))
        cx, cy = self.orbit_centre
        r = 0.5 * self.orbit_radius
        b.fill([(cx - 0.7 * r, cy), (cx + 0.7 * r, cy), (cx, cy + r)], _grey(_WORDS))
        b.box(round(cx - 0.2 * r), round(cy - r), round(cx + 0.2 * r), round(cy), _grey(_WORDS))

    def rulers(self) -> tuple[tuple[Point, Point, float], ...]:
        """Draw one across and one up; return start, end and length in mm of each."""
        across = self._ruler((self._left, 0.46 * self._high), (1, 0), 0.82 * self._wide)
        up = self._ruler((0.085 * self._wide, 0.08 * self._high), (0, 1), 0.86 * self._high)
        return across, up

    def _ruler(self, start: Point, way: tuple[int, int], room: float) -> tuple[Point, Point, float]:
        b, scale = self._b, _INCHES if self._units == "in" else _MILLIMETRES
        px = scale.tick_mm / self._pitch
        ends = scale.long if room * self._pitch < 4 * scale.named * scale.tick_mm else scale.named
        last = max(math.floor(room / px / ends) * ends, scale.long)
        aside = (-way[1], way[0])  # to the left of the way: ticks stand on that side
        # ticks that lie closer than four pixels would run into each other
        for tick in range(0, last + 1, 1 if px >= 4 else scale.long):
            tall = (0.035 if tick % scale.long else 0.05 if tick % scale.named else 0.07) * self._small
            x, y = start[0] + way[0] * tick * px, start[1] + way[1] * tick * px
            end = (x + aside[0] * tall, y + aside[1] * tall)
            self._stroke((x, y), end, 1.4 if tick in {0, last} else 0.9)
        end = (start[0] + way[0] * last * px, start[1] + way[1] * last * px)
        self._stroke(start, end, 0.9)
        if way[0]:
            for tick in range(0, last + 1, scale.named):
                b.word(
                    scale.word(tick),
                    start[0] + tick * px,
                    start[1] - 1.4 * self._text,
                    self._text,
                    _grey(_WORDS),
                )
        else:
            b.word(scale.word(last), start[0], end[1] + 0.5 * self._text, self._text, _grey(_WORDS))
        return start, end, last * scale.tick_mm

    def _stroke(self, start: Point, end: Point, wide: float) -> None:
        """Draw a straight line along x or y, flat at its ends, centred on its path."""
        (x0, y0), (x1, y1) = start, end
        half = wide / 2
        dx, dy = (half, 0.0) if x0 == x1 else (0.0, half)
        self._b.fill(
            [
                (x0 - dx, y0 - dy),
                (x1 + dx, y1 - dy) if y0 == y1 else (x0 + dx, y0 - dy),
                (x1 + dx, y1 + dy),
                (x0 - dx, y0 + dy) if y0 == y1 else (x1 - dx, y1 + dy),
            ],
            _grey(_RULER),
        )

    def steps(self) -> None:
        """Draw the numbered steps near black, in one row."""
        b, room = self._b, (0.95 * self._wide - self._left) / len(STEPS)
        side = math.floor(0.82 * room)
        y = round(0.25 * self._high)
        for number, code in enumerate(STEPS, 1):
            x = round(self._left + (number - 1) * room)
            b.box(x, y, x + side, y + side, _grey(code))
            b.word(str(number), x + side / 2, y - 1.3 * self._text, self._text, _grey(_WORDS))

    def range_window(self) -> Sequence[Point]:
        """Draw the window R; return its corners, all the way round."""
        b, side = self._b, round(0.1 * self._small)
        x, y = round(self._left + 1.6 * self._text), round(0.05 * self._high)
        b.word("R", x - 1.1 * self._text, y + 0.3 * side, self._text, _grey(_WORDS))
        for edge in ((x - 3, y - 3, x + side + 3, y - 2), (x - 3, y + side + 2, x + side + 3, y + side + 3)):
            b.box(*edge, _grey(60))
        return (x, y), (x + side, y), (x + side, y + side), (x, y + side)

    def pair(self, offset: Doubles, ratio: float) -> None:
        """Draw one line L1, and two lines L2 that stand `offset` apart, the second darker by `ratio`."""
        b, length = self._b, 0.11 * self._high
        distance = float(np.linalg.norm(offset))
        along = np.array([0.0, 1.0]) if distance < 1e-6 else np.array([-offset[1], offset[0]]) / distance
        along *= -1 if along[1] < 0 else 1
        second = _grey(round(_SIGN * ratio ** (1 / 2.2)))
        for name, x, twice in (("L1", 0.5, False), ("L2", 0.72, True)):
            middle = np.array([x * self._wide, 0.05 * self._high + 0.5 * length])
            if twice:
                self._thin(middle + offset, along, length, second)
            self._thin(middle, along, length, _grey(_SIGN))
            b.word(
                name,
                middle[0] - 1.5 * self._text - abs(offset[0]) - abs(along[0]) * length / 2,
                0.05 * self._high,
                self._text,
                _grey(_WORDS),
            )

    def _thin(self, middle: Doubles, along: Doubles, length: float, grey: Colour) -> None:
        aside = np.array([along[1], -along[0]]) * 0.75
        ends = middle - along * length / 2, middle + along * length / 2
        outline = (ends[0] - aside, ends[0] + aside, ends[1] + aside, ends[1] - aside)
        self._b.fill([(float(x), float(y)) for x, y in outline], grey)


def _grey(code: int) -> Colour:
    return code, code, code
