"""Measures: two ends, a line between them, and its length in words where there is room."""

from __future__ import annotations

from typing import Final

import numpy as np

from ghostprep.optics.vectors import Vector
from ghostprep.paper.colours import FAINT, INK
from ghostprep.paper.lettering import POINT_MM, room_of, width_of
from ghostprep.paper.sheet import PaperSheet, freest

STEP_MM: Final = 5.0
"""From one row of measures to the next."""
FIRST_MM: Final = 4.5
"""From what is measured to the first row."""
_SIZE_PT: Final = 6.5
"""Of a measure's figures: a drawing holds many, and words beside points are larger."""


def measure(sheet: PaperSheet, ends: Vector, words: str, *, axis: int, level: float) -> None:
    """Draw a measure between two points (2, 2), mm of paper.

    On `axis` 0 its line is level and runs at the y of `level`; on 1 it is upright and runs at that x.
    """
    a, b = ends
    low, high = (a, b) if a[axis] <= b[axis] else (b, a)
    line: list[Vector] = []
    for point in (low, high):
        on = point.copy()
        on[1 - axis] = level
        away = level - point[1 - axis]
        if abs(away) > 1:
            lead = np.zeros(2)
            lead[1 - axis] = np.sign(away) * 0.8
            sheet.line([point + lead, on + lead], FAINT, 0.13, zorder=1)
        sheet.line([on - 0.7, on + 0.7], INK, 0.3, zorder=6)
        line.append(on)
    sheet.line(line, INK, 0.13, zorder=6)
    x, y = _place(sheet, line, words, axis)
    room = sheet.text(x, y, words, size_pt=_SIZE_PT, ha="center", va="baseline", turn=90.0 * axis)
    # white behind the words, where they stand on lines of other measures
    sheet.box(room, "white", "none", 0.0, zorder=6.5)


def _place(sheet: PaperSheet, ends: list[Vector], words: str, axis: int) -> tuple[float, float]:
    """Return where the words stand: along the line if they fit, else past one of its ends."""
    long = width_of(words, _SIZE_PT)
    span = float(ends[1][axis] - ends[0][axis])
    middle = float(ends[0][axis]) + span / 2
    past, before = float(ends[1][axis]) + 1.5 + long / 2, float(ends[0][axis]) - 1.5 - long / 2
    slack = span / 2 - long / 2 - 1
    # tried in turn: along the line from its middle outwards, then past its ends
    inside = [middle + share * slack for share in (0, 0.5, -0.5, 1, -1)] if slack >= 0 else []
    outside = [way for far in range(0, 16, 3) for way in (past + far, before - far)]

    def point(along: float) -> tuple[float, float]:
        # words stand a little off the line, above it or to its left; past its end, beside it
        off = 0.9 if along in inside else -0.5 * _SIZE_PT * POINT_MM * 0.7
        beside = float(ends[0][1 - axis]) + (off if axis == 0 else -off)
        return (along, beside) if axis == 0 else (beside, along)

    def covered(at: tuple[float, float]) -> float:
        room = room_of(at, words, _SIZE_PT, bold=False, ha="center", va="baseline", turn=90.0 * axis)
        return sheet.covered(room)

    return freest(map(point, (*inside, *outside)), covered)
