"""Words beside a point, where there is room for them."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from ghostprep.page.lettering import Taken, room_of
from ghostprep.page.look import INK
from ghostprep.page.measures import covers
from ghostprep.page.sheet import Sheet

_TURNS: Final = (90, 270, 45, 135, 315, 225, 0, 180, 65, 115, 245, 295)
_FARTHEST_MM: Final = 30.0
_NEAR_MM: Final = 4.0
"""Farther off than this, a line leads from the words to the point."""


def label(
    sheet: Sheet,
    at: tuple[float, float],
    words: str,
    *,
    within: Taken,
    colour: str = INK,
    size_pt: float = 7.0,
    turn: float = 0.0,
) -> bool:
    """Write words beside a point if it lies within a room that has a free place for them.

    Parameters
    ----------
    sheet : Sheet
    at : tuple of float
        What they name, mm of paper.
    words : str
    within : Taken
        Where they may stand, mm of paper.
    colour : str
    size_pt : float
    turn : float
        Degrees anticlockwise that is tried first; level words are tried too.

    Returns
    -------
    bool
        Whether they were written.
    """
    if not within.holds(Taken(*at, *at)):
        return False
    for reach in np.arange(2.2, _FARTHEST_MM, 1.1):
        for angle in (turn, 0.0) if turn else (0.0,):
            for away in _TURNS:
                a = math.radians(away + angle)
                # words stand clear of the point by `reach` in every direction
                half = sheet.width_of(words, size_pt) / 2 * abs(math.cos(math.radians(away)))
                to = (
                    at[0] + (float(reach) + half) * math.cos(a),
                    at[1] + (float(reach) + half) * math.sin(a),
                )
                room = room_of(to, words, size_pt, bold=False, ha="center", va="middle", turn=angle)
                if within.holds(room) and covers(sheet, room) == 0:
                    if reach > _NEAR_MM:
                        sheet.line([at, (to[0] - half * math.cos(a), to[1] - half * math.sin(a))], INK, 0.1)
                    sheet.text(*to, words, size_pt=size_pt, colour=colour, ha="center", turn=angle)
                    return True
    return False
