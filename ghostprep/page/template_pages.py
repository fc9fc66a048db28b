"""Parts at true size on pages: small ones share a page, large ones run over several."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from ghostprep.optics.vectors import Vector
from ghostprep.page.sheet import FAINT, INK, PAPERS, Sheet, Taken

EDGE_MM: Final = 10.0
"""What printers leave white at each edge."""
RULER_MM: Final = 200.0
OVERLAP_MM: Final = 12.0
"""By how much neighbouring pages of one part overlap."""
_LEFT_MM: Final = EDGE_MM + 12.0
_FOOT_MM: Final = EDGE_MM + 11.0
_HEAD_MM: Final = EDGE_MM + 8.0
_GAP_MM: Final = 7.0
_CAUTION: Final = (
    "Cut sheet is sharp and its chips fly: goggles on, sheet clamped; the tool's manual and your local rules come first."
)
_CHECK: Final = "Print at 100 %, not fitted to the page; the ruler at the left must measure 200 mm. Cut on the middle of the line."


@dataclass(frozen=True, slots=True)
class Pen:
    """Draws a part at its place on a sheet, in the part's own mm, at 1:1."""

    sheet: Sheet
    origin: tuple[float, float]

    def line(self, points: Vector | Sequence[Sequence[float]], colour: str = INK, width_mm: float = 0.25, **style: Any) -> None:
        """Draw a line, as `Sheet.line`."""
        self.sheet.line(np.asarray(points, np.float64) + self.origin, colour, width_mm, **style)

    def area(self, points: Vector | Sequence[Sequence[float]], fill: str = "none", edge: str = INK, width_mm: float = 0.25, **style: Any) -> None:
        """Draw a closed outline, as `Sheet.area`."""
        self.sheet.area(np.asarray(points, np.float64) + self.origin, fill, edge, width_mm, **style)

    def text(self, x: float, y: float, words: str, **style: Any) -> None:
        """Write words, as `Sheet.text`."""
        self.sheet.text(x + self.origin[0], y + self.origin[1], words, **style)

    def box(self, x: float, y: float, wide: float, high: float, **style: Any) -> None:
        """Draw an upright rectangle from its lower left corner."""
        self.area([(x, y), (x + wide, y), (x + wide, y + high), (x, y + high)], **style)


@dataclass(frozen=True, slots=True)
class Part:
    """One part at its true size.

    Attributes
    ----------
    name : str
        What it is, with its measures.
    size : tuple of float
        Width and height, mm.
    draw : callable
        Draws it with a pen whose origin is the part's lower left corner.
    """

    name: str
    size: tuple[float, float]
    draw: Callable[[Pen], None]


def paged(parts: Sequence[Part], paper: str, title: str) -> list[Sheet]:
    """Return the pages that hold all parts."""
    size = PAPERS[paper]
    room = Taken(_LEFT_MM, _FOOT_MM, size[0] - EDGE_MM, size[1] - _HEAD_MM)
    wide, high = room.right - room.left, room.high - room.low
    large = [p for p in parts if p.size[0] > wide or p.size[1] + _GAP_MM > high]
    small = sorted((p for p in parts if p not in large), key=lambda p: -p.size[1])
    drawn: list[tuple[Sheet, str]] = []
    for part in large:
        drawn += _tiles(part, size, room)
    drawn += _shared(small, size, room)
    for number, (sheet, name) in enumerate(drawn, 1):
        _furniture(sheet, f"{title}: {name}", number, len(drawn))
    return [sheet for sheet, _ in drawn]


def _tiles(part: Part, size: tuple[float, float], room: Taken) -> list[tuple[Sheet, str]]:
    """Return the pages of one large part, row by row from its upper left corner."""
    wide, high = room.right - room.left, room.high - room.low
    columns, rows = _count(part.size[0], wide), _count(part.size[1], high)
    pages = []
    for row in range(rows):
        for column in range(columns):
            sheet = Sheet(size)
            across, down = column * (wide - OVERLAP_MM), row * (high - OVERLAP_MM)
            origin = (room.left - across, room.high - part.size[1] + down)
            with sheet.window(room):
                part.draw(Pen(sheet, origin))
            _marks(sheet, room, row, column, rows, columns)
            here = f"{part.name}; page {chr(65 + row)}{column + 1} of {chr(64 + rows)}{columns}"
            pages.append((sheet, here))
    return pages


def _count(length: float, page: float) -> int:
    return max(1, math.ceil((length - OVERLAP_MM) / (page - OVERLAP_MM) - 1e-9))


def _marks(sheet: Sheet, room: Taken, row: int, column: int, rows: int, columns: int) -> None:
    """Draw crosses that lie on each other when neighbouring pages are laid together, and the glue lines."""
    inner = OVERLAP_MM / 2
    xs = [x for x, there in ((room.left + inner, column > 0), (room.right - inner, column < columns - 1)) if there]
    ys = [y for y, there in ((room.high - inner, row > 0), (room.low + inner, row < rows - 1)) if there]
    for x in xs:
        sheet.line([(x, room.low), (x, room.high)], FAINT, 0.15, linestyle=(0, (6, 4)))
        for y in (room.low + 40, (room.low + room.high) / 2, room.high - 40):
            _cross(sheet, x, y)
    for y in ys:
        sheet.line([(room.left, y), (room.right, y)], FAINT, 0.15, linestyle=(0, (6, 4)))
        for x in (room.left + 40, (room.left + room.right) / 2, room.right - 40):
            _cross(sheet, x, y)


def _cross(sheet: Sheet, x: float, y: float) -> None:
    sheet.line([(x - 3, y), (x + 3, y)], INK, 0.2)
    sheet.line([(x, y - 3), (x, y + 3)], INK, 0.2)


def _shared(parts: Sequence[Part], size: tuple[float, float], room: Taken) -> list[tuple[Sheet, str]]:
    """Return pages on which small parts stand in rows, the highest first."""
    pages: list[tuple[Sheet, str]] = []
    sheet: Sheet | None = None
    x, top, deepest = room.left, room.high, 0.0
    for part in parts:
        probe = sheet or Sheet(size)
        need = max(part.size[0], probe.width_of(part.name, 7))
        if sheet is not None and x + need > room.right and x > room.left:
            x, top, deepest = room.left, top - deepest - _GAP_MM, 0.0
        if sheet is None or top - part.size[1] - _GAP_MM < room.low:
            sheet = probe if sheet is None else Sheet(size)
            pages.append((sheet, "parts"))
            x, top, deepest = room.left, room.high, 0.0
        sheet.text(x, top - 2.5, part.name, size_pt=7, weight="bold")
        part.draw(Pen(sheet, (x, top - 5.5 - part.size[1])))
        x += need + _GAP_MM
        deepest = max(deepest, part.size[1] + 5.5)
    return pages


def _furniture(sheet: Sheet, title: str, number: int, count: int) -> None:
    """Draw what stands on every page: title, ruler, cautions."""
    w, h = sheet.size
    page = f"1:1, page {number} of {count}"
    room = w - _LEFT_MM - EDGE_MM - sheet.width_of(page, 8) - 4
    while sheet.width_of(title, 8) > room:
        title = title[:-2].rstrip() + "…"
    sheet.text(_LEFT_MM, h - EDGE_MM - 2, title, size_pt=8, weight="bold")
    sheet.text(w - EDGE_MM, h - EDGE_MM - 2, page, size_pt=8, ha="right")
    sheet.text(_LEFT_MM, EDGE_MM + 5.2, _CHECK, size_pt=6.6)
    sheet.text(_LEFT_MM, EDGE_MM + 1.6, _CAUTION, size_pt=6.6)
    x, low = EDGE_MM + 1.5, (h - RULER_MM) / 2
    sheet.line([(x, low), (x, low + RULER_MM)], INK, 0.2)
    for mm in range(0, int(RULER_MM) + 1, 5):
        long = 4.0 if mm % 50 == 0 else 2.6 if mm % 10 == 0 else 1.5
        sheet.line([(x, low + mm), (x + long, low + mm)], INK, 0.15)
        if mm % 50 == 0:
            sheet.text(x + 5, low + mm, f"{mm}", size_pt=6, rotation=90, ha="left")
