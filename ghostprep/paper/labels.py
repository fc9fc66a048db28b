"""Words beside a point, where there is room for them."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

import numpy as np

from ghostprep.optics.sightlines import Rectangle
from ghostprep.optics.vectors import Vector
from ghostprep.paper.colours import INK
from ghostprep.paper.lettering import room_of, width_of
from ghostprep.paper.sheet import PaperSheet, freest

_TURNS: Final = (90, 270, 45, 135, 315, 225, 0, 180, 65, 115, 245, 295)
"""Degrees from the point to its words, the best first."""
_FARTHEST_MM: Final = 30.0
"""Words that stand farther off are not read with their point."""
_SIZE_PT: Final = 7.0
"""Size of words beside a point; books and newspapers set no smaller (common practice, no source)."""
_NEAR_MM: Final = 4.0
"""Farther off than this, a line leads from the words to the point."""


def label(
    sheet: PaperSheet,
    at: tuple[float, float],
    words: str,
    *,
    within: Rectangle,
    colour: str = INK,
    turn: float = 0.0,
) -> bool:
    """Write words beside a point, if it lies within a room with a free place for them; return whether.

    Parameters
    ----------
    at : tuple of float
        What they name, mm of paper.
    within : Rectangle
        Where they may stand, mm of paper.
    turn : float
        Degrees anticlockwise that is tried first; level words are tried too.
    """
    if not within.holds(Rectangle(*at, *at)):
        return False
    strokes = _segments(sheet)

    def around(reach: float) -> Iterator[tuple[float, tuple[float, float], float]]:
        """Yield what each place costs that stands clear of the point by `reach`, the place, and its turn."""
        for angle in (turn, 0.0) if turn else (0.0,):
            for away in _TURNS:
                a = math.radians(away + angle)
                far = reach + width_of(words, _SIZE_PT) / 2 * abs(math.cos(math.radians(away)))
                to = (at[0] + far * math.cos(a), at[1] + far * math.sin(a))
                room = room_of(to, words, _SIZE_PT, bold=False, ha="center", va="middle", turn=angle)
                if within.holds(room):
                    crossed = _crossings(strokes, to, words, angle)
                    yield 100 * sheet.covered(room) + crossed + far / 60, to, angle

    nowhere = math.inf, at, 0.0
    rings = (
        min(around(float(reach)), default=nowhere, key=lambda place: place[0])
        for reach in np.arange(2.2, _FARTHEST_MM, 1.1)
    )
    # the nearest ring with a place where words cover nothing and no line crosses them
    cost, to, angle = freest(rings, lambda place: place[0] if place[0] >= 1 else 0.0)
    if cost >= 100:
        return False
    near = _nearest(at, to, words, angle)
    if math.dist(at, near) > _NEAR_MM:
        sheet.line([at, near], INK, 0.1)
    sheet.text(*to, words, size_pt=_SIZE_PT, colour=colour, ha="center", turn=angle)
    return True


def _nearest(
    at: tuple[float, float], to: tuple[float, float], words: str, turn: float
) -> tuple[float, float]:
    """Return the point of words, centred on `to` and turned, that is nearest to `at`."""
    room = room_of((0.0, 0.0), words, _SIZE_PT, bold=False, ha="center", va="middle", turn=0.0)
    a = math.radians(turn)
    ahead, up = np.array([math.cos(a), math.sin(a)]), np.array([-math.sin(a), math.cos(a)])
    away = np.subtract(at, to)
    x = min(max(float(away @ ahead), room.left), room.right)
    y = min(max(float(away @ up), room.low), room.high)
    near = to + x * ahead + y * up
    return float(near[0]), float(near[1])


def _segments(sheet: PaperSheet) -> Vector:
    """Return all strokes of a sheet as pieces (n, 2, 2), mm."""
    pieces = [np.stack([stroke[:-1], stroke[1:]], axis=1) for stroke in sheet.strokes]
    return np.concatenate(pieces) if pieces else np.empty((0, 2, 2))


def _crossings(pieces: Vector, at: tuple[float, float], words: str, turn: float) -> int:
    """Return how many pieces of strokes run through words that are centred on a point and turned.

    In the words' own frame their room is an upright rectangle; what is left of a piece after it is
    cut at the four sides (Liang and Barsky, ACM Trans. Graphics 3 (1984) 1) is inside.
    """
    room = room_of((0.0, 0.0), words, _SIZE_PT, bold=False, ha="center", va="middle", turn=0.0)
    cos, sin = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    own = (pieces - at) @ np.array([[cos, -sin], [sin, cos]])
    start, way = own[:, 0], own[:, 1] - own[:, 0]
    enter, leave = np.zeros(len(own)), np.ones(len(own))
    for axis, low, high in ((0, room.left, room.right), (1, room.low, room.high)):
        with np.errstate(divide="ignore", invalid="ignore"):
            a, b = (low - start[:, axis]) / way[:, axis], (high - start[:, axis]) / way[:, axis]
        level = way[:, axis] == 0
        beside = (start[:, axis] < low) | (start[:, axis] > high)
        enter = np.where(level, np.where(beside, np.inf, enter), np.maximum(enter, np.minimum(a, b)))
        leave = np.where(level, leave, np.minimum(leave, np.maximum(a, b)))
    return int((enter < leave).sum())
