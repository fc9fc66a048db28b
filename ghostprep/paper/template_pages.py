"""Parts at true size on pages: small ones share a page, large ones run over several."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np

from ghostprep.errors import InputError
from ghostprep.optics.sightlines import Rectangle
from ghostprep.paper.labels import label
from ghostprep.paper.lettering import width_of
from ghostprep.paper.sheet import PAPERS, PaperSheet, Points, fitted
from ghostprep.paper.template_marks import EDGE_MM, FOOT_MM, HEAD_MM, OVERLAP_MM, Tile, furniture, overlaps

MOST_PAGES: Final = 200
_GAP_MM: Final = 6.0
_NAME_MM: Final = 5.5
_NAME_PT: Final = 7.0


@dataclass(frozen=True, slots=True)
class Pen:
    """Draws a part at its place on a sheet, in the part's own mm, at 1:1."""

    sheet: PaperSheet
    origin: tuple[float, float]
    """Where the part's lower left corner lies, mm of paper; outside the page for a part that began on another
    one."""
    room: Rectangle
    """Where words may stand, mm of paper."""
    _labels: list[tuple[tuple[float, float], str, str, float]] = field(default_factory=list)

    def line(self, points: Points, colour: str, width_mm: float, **style: Any) -> None:
        """Draw a line, as `Sheet.line`."""
        self.sheet.line(np.asarray(points, np.float64) + self.origin, colour, width_mm, **style)

    def area(self, points: Points, edge: str, width_mm: float, **style: Any) -> None:
        """Draw a closed outline without filling, as `Sheet.area`."""
        self.sheet.area(np.asarray(points, np.float64) + self.origin, "none", edge, width_mm, **style)

    def box(self, left: float, low: float, size: tuple[float, float], edge: str, **style: Any) -> None:
        """Draw an upright rectangle from its lower left corner."""
        self.area(Rectangle(left, low, left + size[0], low + size[1]).corners(), edge, **style)

    def disc(self, at: tuple[float, float], radius: float, edge: str) -> None:
        """Draw a circle's line."""
        x, y = at[0] + self.origin[0], at[1] + self.origin[1]
        self.sheet.disc((x, y), radius, "none", edge, width_mm=0.35)

    def label(self, at: tuple[float, float], words: str, colour: str, *, turn: float = 0.0) -> None:
        """Have words written beside a point, if it is on this page and there is room for them."""
        self._labels.append((at, words, colour, turn))

    def write_labels(self) -> None:
        """Write them, now that all lines are drawn that they must not cover."""
        for at, words, colour, turn in self._labels:
            on = (at[0] + self.origin[0], at[1] + self.origin[1])
            label(self.sheet, on, words, within=self.room, colour=colour, turn=turn)


@dataclass(frozen=True, slots=True)
class TemplatePart:
    """One part at its true size."""

    name: str
    """What it is, with its measures."""
    size: tuple[float, float]
    """Width and height, mm."""
    draw: Callable[[Pen], None]
    """Draws it with a pen whose origin is the part's lower left corner."""


def paged(parts: Sequence[TemplatePart], paper: str, title: str) -> list[PaperSheet]:
    """Return the pages that hold all parts, in the parts' order as far as they do not share pages.

    Raises
    ------
    InputError
        They would be more than `MOST_PAGES`.
    """
    upright = PAPERS[paper]
    groups = sorted(
        [_tiling(index, part, upright) for index, part in enumerate(parts) if not _fits(part, upright)]
        + _shared([(index, part) for index, part in enumerate(parts) if _fits(part, upright)], upright),
        key=lambda group: group.first_part,
    )
    count = sum(group.rows * group.columns for group in groups)
    if count > MOST_PAGES:
        raise InputError(
            f"the parts of this box at 1:1 would take {count} pages",
            where="--template",
            remedy=f"{MOST_PAGES} are the most; check the units of the scene file",
        )
    sheets: list[PaperSheet] = []
    for group in groups:
        first = len(sheets) + 1
        for row in range(group.rows):
            for column in range(group.columns):
                tile = Tile(row, column, group.rows, group.columns, first)
                sheet = group.drawn(tile)
                furniture(sheet, f"{title}: {group.name}", len(sheets) + 1, count, tile)
                sheets.append(sheet)
    return sheets


def _room(size: tuple[float, float]) -> Rectangle:
    """Return what of a page is left for parts, mm."""
    return Rectangle(EDGE_MM, EDGE_MM + FOOT_MM, size[0] - EDGE_MM, size[1] - EDGE_MM - HEAD_MM)


def _fits(part: TemplatePart, size: tuple[float, float]) -> bool:
    wide, high = _room(size).size
    return part.size[0] <= wide and part.size[1] + _NAME_MM <= high


@dataclass(frozen=True, slots=True)
class _Group:
    """Pages that belong together: one part over rows and columns of pages, or parts on one page."""

    first_part: int
    name: str
    size: tuple[float, float]
    """Of a page, mm."""
    places: tuple[tuple[TemplatePart, float, float], ...]
    """Of parts that share one page, mm; one part that runs over several lies at the upper left."""
    rows: int = 1
    columns: int = 1

    def drawn(self, tile: Tile) -> PaperSheet:
        """Return one page."""
        sheet, room = PaperSheet(self.size), _room(self.size)
        if self.rows * self.columns > 1:
            part = self.places[0][0]
            overlaps(sheet, room, tile)
            wide, high = (side - OVERLAP_MM for side in room.size)
            origin = (room.left - tile.column * wide, room.high - part.size[1] + tile.row * high)
            with sheet.window(room):
                _drawn(part, Pen(sheet, origin, room))
            return sheet
        for part, left, top in self.places:
            name = fitted(part.name, room.right - left, _NAME_PT)
            sheet.text(left, top - 2, name, size_pt=_NAME_PT, bold=True)
        for part, left, top in self.places:
            low = top - _NAME_MM - part.size[1]
            right = left + _wide(part)
            _drawn(part, Pen(sheet, (left, low), Rectangle(left, low, right, top - _NAME_MM)))
        return sheet


def _drawn(part: TemplatePart, pen: Pen) -> None:
    part.draw(pen)
    pen.write_labels()


def _tiling(index: int, part: TemplatePart, upright: tuple[float, float]) -> _Group:
    """Return the pages of a part that is larger than a page, upright or lying, whichever are fewer."""
    if _fits(part, upright[::-1]):
        upright = upright[::-1]
    found = []
    for size in (upright, upright[::-1]):
        room = _room(size)
        rows, columns = (_pages(part.size[k], room.size[k]) for k in (1, 0))
        places = ((part, room.left, room.high),)
        found.append(_Group(index, part.name, size, places, rows, columns))
    return min(found, key=lambda group: group.rows * group.columns)


def _pages(length: float, page: float) -> int:
    return max(1, math.ceil((length - OVERLAP_MM) / (page - OVERLAP_MM) - 1e-9))


def _wide(part: TemplatePart) -> float:
    return max(part.size[0], width_of(part.name, _NAME_PT, bold=True))


def _shared(parts: Sequence[tuple[int, TemplatePart]], size: tuple[float, float]) -> list[_Group]:
    """Return pages on which parts stand in rows: the highest first, each in the first row with room."""
    room = _room(size)
    pages: list[list[tuple[int, TemplatePart, float, float]]] = []
    rows: list[list[float]] = []  # page, next free x, upper edge, height
    lows: list[float] = []  # where the next row of a page begins
    for index, part in sorted(parts, key=lambda pair: -pair[1].size[1]):
        wide, high = min(_wide(part), room.right - room.left), part.size[1] + _NAME_MM
        row = next((r for r in rows if r[1] + wide <= room.right and high <= r[3]), None)
        if row is None:
            page = next((p for p, low in enumerate(lows) if low - high >= room.low - 1e-6), len(pages))
            if page == len(pages):
                pages.append([])
                lows.append(room.high)
            row = [page, room.left, lows[page], high]
            lows[page] -= high + _GAP_MM
            rows.append(row)
        pages[int(row[0])].append((index, part, row[1], row[2]))
        row[1] += wide + _GAP_MM
    return [
        _Group(
            min(index for index, *_ in page),
            page[0][1].name if len(page) == 1 else "parts",
            size,
            tuple((part, x, top) for _, part, x, top in page),
        )
        for page in pages
    ]
