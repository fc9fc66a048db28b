"""Numbered tags that find a free place beside what they name, and the key that explains them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final, TypeAlias

import numpy as np

from ghostprep.optics.sightlines import Rectangle
from ghostprep.paper.colours import INK
from ghostprep.paper.sheet import Dash, PaperSheet, freest, wrapped

Mark: TypeAlias = tuple[str, tuple[float, float], float]
"""The name of a thing, a point of it on the sheet, and the direction to try first for its tag."""
_RADIUS_MM: Final = 2.1
_TURNS: Final = (0, 25, -25, 50, -50, 80, -80, 110, -110, 145, -145, 180)
"""Degrees to either side of the direction that is tried first."""
_WORDS_PT: Final = 6.3
_LINE_MM: Final = 3.1
_ENTRY_MM: Final = 4.6
_INDENT_MM: Final = 6.5
"""The tags' discs, and the key: size of its letters, its lines, its entries, and where its words begin."""
KEY_MM: Final = 62.0
"""The least width of the key."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of the key: a thing's name, its colour, and what the key says of it."""

    name: str
    colour: str
    words: str


@dataclass(slots=True)
class Tags:
    """The tags of one sheet and their key; they are numbered in the key's order."""

    entries: list[Entry]
    lines: list[tuple[str, Dash, str]] = field(default_factory=list)
    """What the key says of lines: colour, dashes, words."""

    def put_all(self, sheet: PaperSheet, marks: Sequence[Mark]) -> None:
        """Set a tag beside each marked point, where nothing legible stands."""
        dots = [Rectangle(*at, *at).grown(0.8) for _, at, _ in marks]
        for name, at, away in marks:
            self._put(sheet, name, at, away, dots)

    def _put(
        self, sheet: PaperSheet, name: str, at: tuple[float, float], away: float, dots: Sequence[Rectangle]
    ) -> None:
        number = [entry.name for entry in self.entries].index(name)
        around = (
            (at[0] + float(reach) * math.cos(a), at[1] + float(reach) * math.sin(a))
            for reach in np.arange(5.5, 46, 1.5)
            for a in (math.radians(away + turn) for turn in _TURNS)
        )

        def covered(to: tuple[float, float]) -> float:
            room = _around(to)
            return sheet.covered(room) + sum(room.meets(dot) for dot in dots) + _crossed(sheet, at, to)

        to, colour = freest(around, covered), self.entries[number].colour
        sheet.line([at, to], INK, 0.13, zorder=8)
        sheet.disc(at, 0.5, colour, "white", width_mm=0.1, zorder=8.5)
        sheet.disc(to, _RADIUS_MM, "white", colour, width_mm=0.35, zorder=9)
        sheet.text(*to, str(number + 1), size_pt=6.5, ha="center", zorder=10)
        sheet.taken[-1] = _around(to)

    def height(self, width: float) -> float:
        """Return how high the key is at a width, mm."""
        words = sum(len(wrapped(e.words, width - _INDENT_MM, _WORDS_PT)) for e in self.entries)
        lines = sum(len(wrapped(line[2], width - _INDENT_MM, _WORDS_PT)) for line in self.lines)
        return _ENTRY_MM * len(self.entries) + _LINE_MM * words + (_LINE_MM + 0.7) * lines + 3.0

    def key(self, sheet: PaperSheet, left: float, high: float, width: float) -> None:
        """Write the key downwards from `high`."""
        y = high - 1.5
        for number, entry in enumerate(self.entries, 1):
            sheet.box(Rectangle(left, y - 1.5, left + 4.4, y + 1.5), "white", entry.colour, 0.35)
            sheet.text(left + 2.2, y, str(number), size_pt=6, ha="center")
            sheet.text(left + _INDENT_MM, y, entry.name, size_pt=7, bold=True)
            for line in wrapped(entry.words, width - _INDENT_MM, _WORDS_PT):
                y -= _LINE_MM
                sheet.text(left + _INDENT_MM, y, line, size_pt=_WORDS_PT)
            y -= _ENTRY_MM
        for colour, style, words in self.lines:
            sheet.line([(left, y), (left + 4.4, y)], colour, 0.35, dash=style)
            for line in wrapped(words, width - _INDENT_MM, _WORDS_PT):
                sheet.text(left + _INDENT_MM, y, line, size_pt=_WORDS_PT)
                y -= _LINE_MM + 0.7


def _around(at: tuple[float, float]) -> Rectangle:
    return Rectangle(*at, *at).grown(_RADIUS_MM)


def _crossed(sheet: PaperSheet, at: tuple[float, float], to: tuple[float, float]) -> int:
    """Return over how many legible things the line from a point to its tag would run."""
    way = np.add(at, np.subtract(to, at) * np.linspace(0.1, 1, 10)[:, None]).tolist()
    return sum(
        any(other.left < x < other.right and other.low < y < other.high for x, y in way)
        for other in sheet.taken
    )
