"""Parts at true size on pages: small ones share a page, large ones run over several."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from ghostprep.errors import InputError
from ghostprep.page.labels import label
from ghostprep.page.lettering import Taken
from ghostprep.page.sheet import PAPERS, Points, Sheet, fitted
from ghostprep.page.template_marks import EDGE_MM, FOOT_MM, HEAD_MM, OVERLAP_MM, Tile, furniture, overlaps

MOST_PAGES: Final = 200
_GAP_MM: Final = 6.0
_NAME_MM: Final = 5.5
_NAME_PT: Final = 7.0


@dataclass(frozen=True, slots=True)
class Pen:
    """Draws a part at its place on a sheet, in the part's own mm, at 1:1.

    Attributes
    ----------
    sheet : Sheet
    origin : tuple of float
        Where the part's lower left corner lies, mm of paper; outside the page for a part that
        began on another one.
    room : Taken
        Where words may stand, mm of paper.
    """

    sheet: Sheet
    origin: tuple[float, float]
    room: Taken

    def line(self, points: Points, colour: str, width_mm: float = 0.25, **style: Any) -> None:
        """Draw a line, as `Sheet.line`."""
        self.sheet.line(np.asarray(points, np.float64) + self.origin, colour, width_mm, **style)

    def area(self, points: Points, edge: str, width_mm: float = 0.3, **style: Any) -> None:
        """Draw a closed outline without filling, as `Sheet.area`."""
        self.sheet.area(np.asarray(points, np.float64) + self.origin, "none", edge, width_mm, **style)

    def box(self, left: float, low: float, size: tuple[float, float], edge: str, **style: Any) -> None:
        """Draw an upright rectangle from its lower left corner."""
        right, high = left + size[0], low + size[1]
        self.area([(left, low), (right, low), (right, high), (left, high)], edge, **style)

    def label(self, at: tuple[float, float], words: str, colour: str, *, turn: float = 0.0) -> None:
        """Write words beside a point, if it is on this page and there is room for them."""
        on = (at[0] + self.origin[0], at[1] + self.origin[1])
        label(self.sheet, on, words, within=self.room, colour=colour, turn=turn)


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
    """Return the pages that hold all parts.

    Raises
    ------
    InputError
        They would be more than `MOST_PAGES`.
    """
    size = PAPERS[paper]
    room = Taken(EDGE_MM, EDGE_MM + FOOT_MM, size[0] - EDGE_MM, size[1] - EDGE_MM - HEAD_MM)
    large = [part for part in parts if not _fits(part, room)]
    small = sorted((part for part in parts if _fits(part, room)), key=lambda part: -part.size[1])
    count = sum(math.prod(_grid(part, room)) for part in large)
    if count > MOST_PAGES:
        raise InputError(
            f"a template of this box would take more than {count} pages",
            where="--template",
            remedy="leave it out",
        )
    drawn: list[tuple[Sheet, str, Tile | None]] = []
    for part in large:
        drawn += _tiles(part, size, room, first=len(drawn) + 1)
    drawn += [(sheet, "parts", None) for sheet in _shared(small, size, room)]
    for number, (sheet, name, tile) in enumerate(drawn, 1):
        furniture(sheet, f"{title}: {name}", number, len(drawn), tile)
    return [sheet for sheet, _, _ in drawn]


def _fits(part: Part, room: Taken) -> bool:
    return part.size[0] <= room.right - room.left and part.size[1] + _NAME_MM <= room.high - room.low


def _grid(part: Part, room: Taken) -> tuple[int, int]:
    """Return rows and columns of pages."""
    wide, high = room.right - room.left, room.high - room.low

    def count(length: float, page: float) -> int:
        return max(1, math.ceil((length - OVERLAP_MM) / (page - OVERLAP_MM) - 1e-9))

    return count(part.size[1], high), count(part.size[0], wide)


def _tiles(
    part: Part, size: tuple[float, float], room: Taken, *, first: int
) -> list[tuple[Sheet, str, Tile | None]]:
    """Return the pages of one large part, row by row from its upper left corner."""
    rows, columns = _grid(part, room)
    step = room.right - room.left - OVERLAP_MM, room.high - room.low - OVERLAP_MM
    pages: list[tuple[Sheet, str, Tile | None]] = []
    for row in range(rows):
        for column in range(columns):
            sheet, tile = Sheet(size), Tile(row, column, rows, columns, first)
            overlaps(sheet, room, tile)
            origin = (room.left - column * step[0], room.high - part.size[1] + row * step[1])
            with sheet.window(room):
                part.draw(Pen(sheet, origin, room))
            pages.append((sheet, part.name, tile))
    return pages


def _shared(parts: Sequence[Part], size: tuple[float, float], room: Taken) -> list[Sheet]:
    """Return pages on which small parts stand in rows, the highest first."""
    pages: list[Sheet] = []
    x, top, deepest = room.left, room.low, 0.0
    for part in parts:
        name = fitted(part.name, room.right - room.left, _NAME_PT, bold=True)
        wide = max(part.size[0], Sheet.width_of(name, _NAME_PT, bold=True))
        high = part.size[1] + _NAME_MM
        if x > room.left and x + wide > room.right:
            x, top, deepest = room.left, top - deepest - _GAP_MM, 0.0
        if not pages or top - high < room.low - 1e-6:
            pages.append(Sheet(size))
            x, top, deepest = room.left, room.high, 0.0
        sheet = pages[-1]
        sheet.text(x, top - 2, name, size_pt=_NAME_PT, bold=True)
        cell = Taken(x, top - high, x + wide, top - _NAME_MM)
        part.draw(Pen(sheet, (x, top - high), cell))
        x += wide + _GAP_MM
        deepest = max(deepest, high)
    return pages
