"""What stands on a template's page besides the parts: head, check ruler, cautions, overlaps, key map."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from ghostprep.optics.sightlines import Rectangle
from ghostprep.paper.colours import FAINT, INK
from ghostprep.paper.lettering import INCH_MM, width_of
from ghostprep.paper.sheet import PaperSheet, fitted, wrapped

EDGE_MM: Final = 10.0
"""What printers leave white at each edge. Common practice, no source."""
FOOT_MM: Final = 17.0
HEAD_MM: Final = 8.0
"""Taken by the ruler and the cautions below, and by the title above."""
OVERLAP_MM: Final = 12.0
"""By how much neighbouring pages of one part overlap."""
RULER_MM: Final = 100
RULER_IN: Final = 4
_SMALL_PT: Final = 6.0
_MAP_MM: Final = 20.0
"""Width of the little map of pages."""
_CHECK: Final = (
    "Print at 100 %, not fitted to the page, and measure this ruler before you cut: "
    "100 mm and 4 in must be true. Cut on the middle of the lines."
)
_CAUTION: Final = (
    "Cut edges are sharp and chips fly: clamp the sheet, wear goggles. "
    "Your local codes and the tool's manual come first."
)


@dataclass(frozen=True, slots=True)
class Tile:
    """Which of a part's pages this is; rows count from the top, pages from `first`."""

    row: int
    column: int
    rows: int
    columns: int
    first: int

    def page(self, row: int, column: int) -> int:
        """Return the number of the page at a row and column."""
        return self.first + row * self.columns + column


def head_and_foot(sheet: PaperSheet, title: str, number: int, count: int, tile: Tile) -> None:
    """Draw head and foot of a page."""
    w, h = sheet.size
    said = sheet.text(w - EDGE_MM, h - EDGE_MM - 2, f"1:1, page {number} of {count}", size_pt=8, ha="right")
    title = fitted(title, said.left - EDGE_MM - 4, 8)
    sheet.text(EDGE_MM, h - EDGE_MM - 2, title, size_pt=8, bold=True)
    _ruler(sheet, EDGE_MM, EDGE_MM + 4.4)
    left = EDGE_MM + RULER_IN * INCH_MM + 5
    right = w - EDGE_MM
    if tile.rows * tile.columns > 1:
        right -= _MAP_MM + 3
        _map(sheet, Rectangle(right + 3, EDGE_MM, w - EDGE_MM, EDGE_MM + FOOT_MM - 3), tile)
    y = EDGE_MM + FOOT_MM - 4.5
    for words in (_CHECK, _CAUTION):
        for line in wrapped(words, right - left, _SMALL_PT):
            sheet.text(left, y, line, size_pt=_SMALL_PT)
            y -= 2.35


def _ruler(sheet: PaperSheet, left: float, low: float) -> None:
    """Draw the check ruler: millimetres on its upper edge, inches on its lower one."""
    high = low + 3.6
    sheet.line([(left, high), (left + RULER_MM, high)], INK, 0.15)
    for mm in range(0, RULER_MM + 1, 5):
        long = 2.6 if mm % 10 == 0 else 1.5
        sheet.line([(left + mm, high), (left + mm, high + long)], INK, 0.15)
        if mm % 50 == 0:
            ha = {0: "left", RULER_MM: "right"}.get(mm, "center")
            sheet.text(left + mm, high + 4.2, f"{mm} mm" if mm else "0", size_pt=_SMALL_PT, ha=ha)
    sheet.line([(left, low), (left + RULER_IN * INCH_MM, low)], INK, 0.15)
    for quarter in range(4 * RULER_IN + 1):
        long = 1.5 if quarter % 4 else 2.6
        x = left + quarter * INCH_MM / 4
        sheet.line([(x, low), (x, low - long)], INK, 0.15)
    for inch in range(0, RULER_IN + 1, 2):
        ha = {0: "left", RULER_IN: "right"}.get(inch, "center")
        sheet.text(left + inch * INCH_MM, low - 4.0, f"{inch} in" if inch else "0", size_pt=_SMALL_PT, ha=ha)


def _map(sheet: PaperSheet, room: Rectangle, tile: Tile) -> None:
    """Draw a little map of a part's pages, this one dark."""
    wide, high = (room.right - room.left) / tile.columns, (room.high - room.low) / tile.rows
    step = min(wide, high * 0.75)  # pages are higher than wide
    left, top = room.right - step * tile.columns, room.high
    for row in range(tile.rows):
        for column in range(tile.columns):
            here = (row, column) == (tile.row, tile.column)
            x, y = left + column * step, top - (row + 1) * step / 0.75
            cell = Rectangle(x, y, x + step, y + step / 0.75).grown(-0.2)
            sheet.box(cell, INK if here else "white", INK, 0.15)
            words = str(tile.page(row, column))
            size = min(6.0, step * 2.0)
            if size > 2.5 and width_of(words, size) < step - 0.6:
                sheet.text(*cell.centre, words, size_pt=size, colour="white" if here else INK, ha="center")


def overlaps(sheet: PaperSheet, room: Rectangle, tile: Tile) -> None:
    """Draw the lines to cut to, and crosses that come to lie on each other on neighbouring pages."""
    inner, row, column = room.grown(-OVERLAP_MM / 2), tile.row, tile.column
    for there, start, end, page in (
        (column > 0, (inner.left, room.low), (inner.left, room.high), (row, column - 1)),
        (column < tile.columns - 1, (inner.right, room.low), (inner.right, room.high), (row, column + 1)),
        (row > 0, (room.left, inner.high), (room.right, inner.high), (row - 1, column)),
        (row < tile.rows - 1, (room.left, inner.low), (room.right, inner.low), (row + 1, column)),
    ):
        if there:
            _join(sheet, start, end, f"here page {tile.page(*page)} goes on")


def _join(sheet: PaperSheet, start: tuple[float, float], end: tuple[float, float], words: str) -> None:
    sheet.line([start, end], FAINT, 0.15, dash=(6, 4))
    upright = start[0] == end[0]
    for share in (0.2, 0.5, 0.8):
        x, y = (a + (b - a) * share for a, b in zip(start, end, strict=True))
        sheet.line([(x - 3, y), (x + 3, y)], INK, 0.2)
        sheet.line([(x, y - 3), (x, y + 3)], INK, 0.2)
    x, y = (a + (b - a) * 0.35 for a, b in zip(start, end, strict=True))
    at = (x - 1.6, y) if upright else (x, y + 1.6)
    sheet.text(*at, words, size_pt=5.5, colour=FAINT, ha="center", turn=90.0 if upright else 0.0)
