"""Parts at true size on pages: small ones share a page, large ones run over several."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from ghostprep.errors import InputError
from ghostprep.optics.sightlines import Rectangle
from ghostprep.paper.labels import label
from ghostprep.paper.lettering import width_of
from ghostprep.paper.sheet import PAPERS, PaperSheet, fitted
from ghostprep.paper.template_marks import (
    EDGE_MM,
    FOOT_MM,
    HEAD_MM,
    OVERLAP_MM,
    Tile,
    head_and_foot,
    overlaps,
)

MOST_PAGES: Final = 200
"""Of more it is likely that the units are wrong."""
_GAP_MM: Final = 6.0
_NAME_MM: Final = 5.5
_NAME_PT: Final = 7.0
"""Between parts on a page; a part's name above it, and its letters."""


class TemplatePart(PaperSheet):
    """One part at its true size, mm, drawn from its lower left corner; its name tells its measures."""

    def __init__(self, name: str, size: tuple[float, float]) -> None:
        super().__init__(size)
        self.name = name
        self.labels: list[tuple[tuple[float, float], str, str, float]] = []

    def label(self, at: tuple[float, float], words: str, colour: str, *, turn: float = 0.0) -> None:
        """Have words written beside a point, where that is on a page and there is room for them."""
        self.labels.append((at, words, colour, turn))

    def draw_on(self, page: PaperSheet, origin: tuple[float, float], room: Rectangle) -> None:
        """Draw the part, its corner at `origin`, on this page or off it; its words stay in `room`."""
        page.paste(self, origin)
        for (x, y), words, colour, turn in self.labels:
            at = (x + origin[0], y + origin[1])
            label(page, at, words, within=room, colour=colour, turn=turn)


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
                head_and_foot(sheet, f"{title}: {group.name}", len(sheets) + 1, count, tile)
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
                part.draw_on(sheet, origin, room)
            return sheet
        for part, left, top in self.places:
            name = fitted(part.name, room.right - left, _NAME_PT)
            sheet.text(left, top - 2, name, size_pt=_NAME_PT, bold=True)
        for part, left, top in self.places:
            low = top - _NAME_MM - part.size[1]
            right = left + _wide(part)
            part.draw_on(sheet, (left, low), Rectangle(left, low, right, top - _NAME_MM))
        return sheet


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
