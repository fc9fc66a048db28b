"""A sheet of paper in millimetres: lines, areas, measures and words that know how much room they take."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, Final, TypeAlias

import numpy as np

from ghostprep.page.lettering import MIDDLE, POINT_MM, Taken, room_of
from ghostprep.page.lettering import width_of as _width_of
from ghostprep.page.look import INK

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.figure import Figure
    from matplotlib.transforms import Transform

    from ghostprep.optics.vectors import Vector

Points: TypeAlias = "Vector | Sequence[Sequence[float]] | Sequence[Vector]"

PAPERS: Final = {
    "a4": (210.0, 297.0),
    "a3": (297.0, 420.0),
    "letter": (215.9, 279.4),
    "tabloid": (279.4, 431.8),
}
"""Width and height in mm, upright: ISO 216 and ANSI/ASME Y14.1."""


class Sheet:
    """One sheet; x runs right and y up from its lower left corner, in mm of paper.

    Parameters
    ----------
    size : tuple of float
        Width and height, mm.

    Attributes
    ----------
    figure : matplotlib.figure.Figure
    taken : list of Taken
        Where words stand, for what is placed later.
    strokes : list of Vector
        The lines and outlines (n, 2) drawn so far, mm.
    """

    def __init__(self, size: tuple[float, float]) -> None:
        from matplotlib.figure import Figure
        from matplotlib.transforms import Affine2D

        self.size = size
        self.figure: Figure = Figure(figsize=(size[0] / 25.4, size[1] / 25.4), facecolor="white")
        self.taken: list[Taken] = []
        self.strokes: list[Vector] = []
        self._mm: Transform = Affine2D().scale(1 / 25.4) + self.figure.dpi_scale_trans
        self._window: tuple[Taken, Any] | None = None

    @property
    def room(self) -> Taken:
        """Where is drawn: the whole sheet, or the window that is open."""
        return self._window[0] if self._window else Taken(0.0, 0.0, *self.size)

    def line(self, points: Points, colour: str = INK, width_mm: float = 0.25, **style: Any) -> None:
        """Draw a line through points (n, 2), mm; `style` as matplotlib's lines take it."""
        from matplotlib.lines import Line2D

        xy = np.asarray(points, np.float64)
        style = {"solid_capstyle": "butt", "dash_capstyle": "butt", "solid_joinstyle": "miter", **style}
        self.strokes.append(xy)
        self._add(Line2D(xy[:, 0], xy[:, 1], color=colour, linewidth=width_mm / POINT_MM, **style))

    def area(
        self, points: Points, fill: str = "none", edge: str = INK, width_mm: float = 0.25, **style: Any
    ) -> None:
        """Draw a closed outline through points (n, 2), mm; `style` as matplotlib's patches take it."""
        from matplotlib.patches import Polygon

        xy = np.asarray(points, np.float64)
        style = {"joinstyle": "miter", **style}
        self.strokes.append(np.vstack([xy, xy[:1]]))
        self._add(Polygon(xy, facecolor=fill, edgecolor=edge, linewidth=width_mm / POINT_MM, **style))

    def box(
        self, room: Taken, fill: str = "none", edge: str = INK, width_mm: float = 0.25, **style: Any
    ) -> None:
        """Draw an upright rectangle, mm."""
        a, b, c, d = room.left, room.low, room.right, room.high
        self.area([(a, b), (c, b), (c, d), (a, d)], fill, edge, width_mm, **style)

    def disc(
        self,
        at: tuple[float, float],
        radius: float,
        fill: str,
        edge: str = "none",
        width_mm: float = 0.25,
        **style: Any,
    ) -> None:
        """Draw a disc, mm."""
        from matplotlib.patches import Circle

        self._add(Circle(at, radius, facecolor=fill, edgecolor=edge, linewidth=width_mm / POINT_MM, **style))

    def text(
        self,
        x: float,
        y: float,
        words: str,
        *,
        size_pt: float = 7,
        colour: str = INK,
        bold: bool = False,
        ha: str = "left",
        va: str = "middle",
        turn: float = 0.0,
        zorder: float = 7,
    ) -> Taken:
        """Write one line of words and return the room that it takes; see `room_of` for the anchor."""
        from matplotlib.text import Text

        room = room_of((x, y), words, size_pt, bold=bold, ha=ha, va=va, turn=turn)
        if not self.room.holds(room):
            return room
        # the middle of the capitals, and not of what hangs below the line: digits and words then line up
        drop = MIDDLE * size_pt * POINT_MM if va == "middle" else 0.0
        a = np.radians(turn)
        made = Text(
            x + drop * float(np.sin(a)),
            y - drop * float(np.cos(a)),
            words,
            fontsize=size_pt,
            color=colour,
            fontweight="bold" if bold else "normal",
            ha=ha,
            va="baseline",
            rotation=turn,
            rotation_mode="anchor",
            parse_math=False,  # titles may hold a "$", which is no formula here
            zorder=zorder,
        )
        self._add(made)
        self.taken.append(room)
        return room

    @staticmethod
    def width_of(words: str, size_pt: float = 7, *, bold: bool = False) -> float:
        """Return how long words are when written, mm."""
        return _width_of(words, size_pt, bold=bold)

    @contextmanager
    def window(self, room: Taken) -> Iterator[None]:
        """While the block runs, draw only inside a rectangle: lines are cut there, words left out."""
        from matplotlib.patches import Rectangle

        hole = Rectangle((room.left, room.low), room.right - room.left, room.high - room.low)
        hole.set_transform(self._mm)
        self._window = (room, hole)
        try:
            yield
        finally:
            self._window = None

    def _add(self, artist: Artist) -> None:
        artist.set_transform(self._mm)
        if self._window:
            artist.set_clip_path(self._window[1])
        self.figure.add_artist(artist)


def fitted(words: str, width_mm: float, size_pt: float, *, bold: bool = False) -> str:
    """Return words, shortened with an ellipsis where they are longer than a width."""
    if _width_of(words, size_pt, bold=bold) <= width_mm:
        return words
    while words and _width_of(words + "…", size_pt, bold=bold) > width_mm:
        words = words[:-1].rstrip()
    return words + "…"
