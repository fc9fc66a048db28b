"""Numbered tags that find a free place beside what they name, and the key that explains them."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from ghostprep.page.sheet import FAINT, INK, Sheet, Taken

_RADIUS_MM: Final = 2.1


@dataclass(slots=True)
class Tags:
    """The tags of one sheet.

    Attributes
    ----------
    sheet : Sheet
    entries : list of tuple
        For each number: colour, name, and what the key says of it.
    """

    sheet: Sheet
    entries: list[tuple[str, str, str]] = field(default_factory=list)

    def number(self, colour: str, name: str, words: str) -> int:
        """Enter a thing into the key and return its number."""
        self.entries.append((colour, name, words))
        return len(self.entries)

    def put(self, number: int, at: tuple[float, float], *, away: float = 90.0) -> None:
        """Set a tag beside a point of the sheet, where nothing legible stands.

        `away` is the direction that is tried first, degrees from the right, anticlockwise.
        """
        x0, y0 = at
        for reach in np.arange(5.5, 40, 1.5):
            for turn in (0, 25, -25, 50, -50, 80, -80, 110, -110, 145, -145, 180):
                a = math.radians(away + turn)
                x, y = x0 + reach * math.cos(a), y0 + reach * math.sin(a)
                room = Taken(x - _RADIUS_MM, y - _RADIUS_MM, x + _RADIUS_MM, y + _RADIUS_MM)
                if self._free(room):
                    self._draw(number, at, (x, y))
                    return

    def _free(self, room: Taken) -> bool:
        w, h = self.sheet.size
        inside = room.left > 5 and room.low > 5 and room.right < w - 5 and room.high < h - 5
        return inside and not any(room.meets(other, 0.6) for other in self.sheet.taken)

    def _draw(self, number: int, at: tuple[float, float], to: tuple[float, float]) -> None:
        from matplotlib.patches import Circle

        colour = self.entries[number - 1][0]
        self.sheet.line([at, to], FAINT, 0.15, zorder=8)
        for radius, fill, order in ((0.45, colour, 9),):
            self.sheet.axes.add_patch(Circle(at, radius, facecolor=fill, edgecolor="none", zorder=order))
        self.sheet.axes.add_patch(
            Circle(to, _RADIUS_MM, facecolor="white", edgecolor=colour, linewidth=0.8, zorder=9)
        )
        self.sheet.text(*to, str(number), size_pt=6.5, ha="center", va="center_baseline", zorder=10)
        self.sheet.taken[-1] = Taken(
            to[0] - _RADIUS_MM, to[1] - _RADIUS_MM, to[0] + _RADIUS_MM, to[1] + _RADIUS_MM
        )

    def key(self, left: float, high: float, right: float) -> float:
        """Write the key downwards from `high` and return where it ends, mm."""
        y = high
        for number, (colour, name, words) in enumerate(self.entries, 1):
            self.sheet.area(
                [(left, y - 1.3), (left + 4.6, y - 1.3), (left + 4.6, y + 1.3), (left, y + 1.3)],
                colour,
                "none",
            )
            self.sheet.text(
                left + 2.3, y, str(number), size_pt=6, colour="white", ha="center", va="center_baseline"
            )
            self.sheet.text(left + 6.5, y, name, size_pt=7, weight="bold", va="center_baseline")
            for line in wrapped(self.sheet, words, right - left - 6.5, 6.3):
                y -= 3.1
                self.sheet.text(left + 6.5, y, line, size_pt=6.3, colour=INK, va="center_baseline")
            y -= 4.6
        return y


def wrapped(sheet: Sheet, words: str, width_mm: float, size_pt: float) -> list[str]:
    """Return words broken into lines of at most a width."""
    space = sheet.width_of("n", size_pt) * 0.6
    lines: list[str] = []
    used = 0.0
    for word in words.split(" "):
        long = sheet.width_of(word, size_pt)
        if lines and used + space + long <= width_mm:
            lines[-1] += f" {word}"
            used += space + long
        else:
            lines.append(word)
            used = long
    return lines
