"""A sheet of paper in millimetres: lines, areas and words, kept until they are painted."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final, TypeAlias, TypeVar

import numpy as np

from ghostprep.optics.sightlines import Rectangle
from ghostprep.paper.colours import INK
from ghostprep.paper.lettering import room_of, width_of

if TYPE_CHECKING:
    from ghostprep.optics.vectors import Vector

_Place = TypeVar("_Place")
Points: TypeAlias = "Vector | Sequence[Sequence[float]] | Sequence[Vector]"
Dash: TypeAlias = tuple[float, ...]
"""Lengths drawn and left out in turn, in widths of the line; empty: drawn through."""
_SPARE_MM: Final = 0.3
"""What words keep from each other."""
_RIM_MM: Final = 5.0
"""What they keep from the sheet's edge."""
PAPERS: Final = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""Width and height in mm, upright: ISO 216 and ANSI/ASME Y14.1."""


@dataclass(frozen=True, slots=True, eq=False)
class DrawnShape:
    """A line, an area or a disc."""

    points: Vector
    """(n, 2), mm; the middle only (1, 2) for a disc."""
    fill: str
    edge: str
    """Colours; "none" leaves it out."""
    width_mm: float
    """Of the edge."""
    window: Rectangle | None
    """Outside it the shape is cut off."""
    closed: bool = True
    radius: float = 0.0
    """Of a disc, mm; 0 for all else."""
    dash: Dash = ()
    alpha: float = 1.0
    """1 covers what lies below, 0 leaves it as it is."""
    zorder: float = 1
    """What is higher is painted later."""


@dataclass(frozen=True, slots=True)
class TextLine:
    """One line of words; `at` is the left end, middle or right end of its base line (`ha`), mm."""

    at: tuple[float, float]
    words: str
    size_pt: float
    colour: str
    bold: bool
    ha: str
    va: str
    turn: float
    zorder: float


class PaperSheet:
    """One sheet; x runs right and y up from its lower left corner, in mm of paper."""

    def __init__(self, size: tuple[float, float]) -> None:
        self.size = size
        self.items: list[DrawnShape | TextLine] = []
        self.taken: list[Rectangle] = []  # where words stand, for what is placed later
        self._window: Rectangle | None = None

    @property
    def room(self) -> Rectangle:
        """Where is drawn: the whole sheet, or the window that is open."""
        return self._window or Rectangle(0.0, 0.0, *self.size)

    @property
    def strokes(self) -> list[Vector]:
        """The lines and outlines (n, 2) drawn so far, mm."""
        shapes = (item for item in self.items if isinstance(item, DrawnShape) and len(item.points) > 1)
        return [np.vstack([s.points, s.points[:1]]) if s.closed else s.points for s in shapes]

    def line(
        self, points: Points, colour: str, width_mm: float, *, dash: Dash = (), zorder: float = 2
    ) -> None:
        """Draw a line through points (n, 2), mm."""
        self.area(points, "none", colour, width_mm, closed=False, dash=dash, zorder=zorder)

    def area(self, points: Points, fill: str, edge: str, width_mm: float, **style: Any) -> None:
        """Draw a closed outline through points (n, 2), mm; `style` as `DrawnShape` has it."""
        xy = np.asarray(points, np.float64)
        self.items.append(DrawnShape(xy, fill, edge, width_mm, self._window, **style))

    def box(self, room: Rectangle, fill: str, edge: str, width_mm: float, **style: Any) -> None:
        """Draw an upright rectangle, mm; `style` as `DrawnShape` has it."""
        self.area(room.corners(), fill, edge, width_mm, **style)

    def disc(self, at: tuple[float, float], radius: float, fill: str, edge: str, **style: Any) -> None:
        """Draw a disc, mm; `style` as `DrawnShape` has it, its `width_mm` among it."""
        self.area([at], fill, edge, radius=radius, **style)

    def text(
        self,
        x: float,
        y: float,
        words: str,
        *,
        size_pt: float,
        colour: str = INK,
        bold: bool = False,
        ha: str = "left",
        va: str = "middle",
        turn: float = 0.0,
        zorder: float = 7,
    ) -> Rectangle:
        """Write one line of words and return the room that it takes; see `room_of` for the anchor.

        Words that would not lie wholly in the open window are left out.
        """
        room = room_of((x, y), words, size_pt, bold=bold, ha=ha, va=va, turn=turn)
        if self.room.holds(room):
            self.items.append(TextLine((x, y), words, size_pt, colour, bold, ha, va, turn, zorder))
            self.taken.append(room)
        return room

    def paste(self, other: PaperSheet, origin: tuple[float, float]) -> None:
        """Draw the lines, areas and discs of another sheet, its lower left corner at `origin`, mm."""
        for item in other.items:
            if isinstance(item, DrawnShape):
                self.items.append(replace(item, points=item.points + origin, window=self._window))

    def covered(self, room: Rectangle) -> float:
        """Return how much of what is legible already, and of the sheet's rim, a room would cover, mm2."""
        total = 0.0
        for other in self.taken:
            if room.meets(other, _SPARE_MM):
                wide, high = room.common(other).size
                total += (wide + _SPARE_MM) * (high + _SPARE_MM)
        w, h = self.size
        over = max(
            _RIM_MM - room.left, _RIM_MM - room.low, room.right - w + _RIM_MM, room.high - h + _RIM_MM, 0.0
        )
        return total + over * 100

    @contextmanager
    def window(self, room: Rectangle) -> Iterator[None]:
        """While the block runs, draw only inside a rectangle: lines are cut there, words left out."""
        self._window = room
        try:
            yield
        finally:
            self._window = None


def freest(places: Iterable[_Place], cost: Callable[[_Place], float]) -> _Place:
    """Return the first place that costs nothing, else the one that costs least."""
    best, least = None, math.inf
    for place in places:
        now = cost(place)
        if now < least or best is None:
            best, least = place, now
        if least <= 0:
            break
    assert best is not None, "there is always some place"
    return best


def middle(points: Vector) -> tuple[float, float]:
    """Return the mean of points (n, 2)."""
    x, y = points.mean(axis=0)
    return float(x), float(y)


def fitted(words: str, width_mm: float, size_pt: float) -> str:
    """Return bold words, shortened with an ellipsis where they are longer than a width."""
    if width_of(words, size_pt, bold=True) <= width_mm:
        return words
    while words and width_of(words + "…", size_pt, bold=True) > width_mm:
        words = words[:-1].rstrip()
    return words + "…"


def wrapped(words: str, width_mm: float, size_pt: float) -> list[str]:
    """Return words broken into lines of at most a width."""
    space, used = width_of(" ", size_pt), 0.0
    lines: list[str] = []
    for word in words.split(" "):
        long = width_of(word, size_pt)
        if lines and used + space + long <= width_mm:
            lines[-1] += f" {word}"
            used += space + long
        else:
            lines.append(word)
            used = long
    return lines
