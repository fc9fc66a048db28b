"""A sheet of paper in millimetres: lines, measures and texts that know how much room they take."""

from __future__ import annotations

import logging
import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from ghostprep.deliver import whole_file
from ghostprep.errors import InputError

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from matplotlib.text import Text

    from ghostprep.optics.vectors import Vector

INK: Final = "#20303c"
FAINT: Final = "#8496a3"
POINT_MM: Final = 25.4 / 72
FORMATS: Final = (".svg", ".pdf", ".png")
PAPERS: Final = {
    "a4": (210.0, 297.0),
    "a3": (297.0, 420.0),
    "letter": (215.9, 279.4),
    "tabloid": (279.4, 431.8),
}
"""Width and height in mm, upright: ISO 216 and ANSI/ASME Y14.1."""


@dataclass(frozen=True, slots=True)
class Taken:
    """An upright rectangle of the sheet that something legible stands in, mm."""

    left: float
    low: float
    right: float
    high: float

    def holds(self, other: Taken) -> bool:
        """Return whether another rectangle lies inside this one."""
        return (
            self.left <= other.left
            and other.right <= self.right
            and self.low <= other.low
            and other.high <= self.high
        )

    def meets(self, other: Taken, spare: float = 0.0) -> bool:
        """Return whether two rectangles overlap, or come nearer than `spare`."""
        return (
            self.left < other.right + spare
            and other.left < self.right + spare
            and self.low < other.high + spare
            and other.low < self.high + spare
        )


class Sheet:
    """One sheet; x runs right and y up from its lower left corner, in mm of paper.

    Parameters
    ----------
    size : tuple of float
        Width and height, mm.

    Attributes
    ----------
    taken : list of Taken
        Where texts stand, for what is placed later.
    """

    def __init__(self, size: tuple[float, float]) -> None:
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure

        self.size = size
        self.figure: Figure = Figure(figsize=(size[0] / 25.4, size[1] / 25.4), facecolor="white")
        self._canvas: Any = FigureCanvasAgg(self.figure)
        self.axes = self.figure.add_axes((0, 0, 1, 1))
        self.axes.set_xlim(0, size[0])
        self.axes.set_ylim(0, size[1])
        self.axes.set_axis_off()
        self.texts: list[Text] = []
        self.taken: list[Taken] = []
        self._window: tuple[Taken, Any] | None = None
        self._widths: dict[tuple[str, float], float] = {}

    def line(
        self,
        points: Vector | Sequence[Sequence[float]],
        colour: str = INK,
        width_mm: float = 0.25,
        **style: Any,
    ) -> None:
        """Draw a line through points (n, 2), mm; `style` as matplotlib's lines take it."""
        xy = np.asarray(points, np.float64)
        style.setdefault("solid_capstyle", "butt")
        style.setdefault("solid_joinstyle", "miter")
        (made,) = self.axes.plot(xy[:, 0], xy[:, 1], color=colour, linewidth=width_mm / POINT_MM, **style)
        if self._window:
            made.set_clip_path(self._window[1])

    def area(
        self,
        points: Vector | Sequence[Sequence[float]],
        fill: str = "none",
        edge: str = INK,
        width_mm: float = 0.25,
        **style: Any,
    ) -> Any:
        """Draw a closed outline through points (n, 2), mm; `style` as matplotlib's patches take it."""
        from matplotlib.patches import Polygon

        style.setdefault("joinstyle", "miter")
        patch = Polygon(
            np.asarray(points, np.float64),
            closed=True,
            facecolor=fill,
            edgecolor=edge,
            linewidth=width_mm / POINT_MM,
            **style,
        )
        self.axes.add_patch(patch)
        if self._window:
            patch.set_clip_path(self._window[1])
        return patch

    @contextmanager
    def window(self, room: Taken) -> Iterator[None]:
        """While the block runs, draw only inside a rectangle: lines are cut there, texts left out."""
        from matplotlib.patches import Rectangle

        hole = Rectangle((room.left, room.low), room.right - room.left, room.high - room.low, fill=False, linewidth=0)
        hole.set_transform(self.axes.transData)
        self._window = (room, hole)
        try:
            yield
        finally:
            self._window = None

    def text(
        self, x: float, y: float, words: str, *, size_pt: float = 7, colour: str = INK, **style: Any
    ) -> Taken:
        """Write words at a point, mm, and return the room that they take."""
        style.setdefault("va", "center")
        style.setdefault("ha", "left")
        # titles may hold a "$", which is no formula here
        made = self.axes.text(x, y, words, fontsize=size_pt, color=colour, parse_math=False, **style)
        room = self.room_of(made)
        if self._window and not self._window[0].holds(room):
            made.remove()
            return room
        self.texts.append(made)
        self.taken.append(room)
        return room

    def room_of(self, text: Text) -> Taken:
        """Return the room that a text takes, mm."""
        box = text.get_window_extent(self._canvas.get_renderer())
        per = 25.4 / self.figure.dpi
        return Taken(box.x0 * per, box.y0 * per, box.x1 * per, box.y1 * per)

    def width_of(self, words: str, size_pt: float = 7) -> float:
        """Return how long words are when written, mm."""
        known = self._widths.get((words, size_pt))
        if known is None:
            made = self.axes.text(0, 0, words, fontsize=size_pt, parse_math=False)
            room = self.room_of(made)
            made.remove()
            known = self._widths[words, size_pt] = room.right - room.left
        return known

    def measure(
        self, start: Sequence[float], end: Sequence[float], words: str, *, level: float, size_pt: float = 6.5
    ) -> None:
        """Draw a measure between two points, upright or level, mm.

        `level` is the y of a level measure's line, or the x of an upright one's, mm. The measure is
        level if the points differ more in x than in y.
        """
        a, b = np.asarray(start, np.float64), np.asarray(end, np.float64)
        axis = 0 if abs(b[0] - a[0]) >= abs(b[1] - a[1]) else 1
        low, high = (a, b) if a[axis] <= b[axis] else (b, a)
        ends = []
        for point in (low, high):
            on = point.copy()
            on[1 - axis] = level
            away = np.sign(level - point[1 - axis])
            from_, to = point.copy(), on.copy()
            from_[1 - axis] += 0.8 * away
            to[1 - axis] += 0.8 * away
            if abs(level - point[1 - axis]) > 1:
                self.line([from_, to], FAINT, 0.13)
            ends.append(on)
            self.line([on - 0.7, on + 0.7], INK, 0.3)
        self.line(ends, INK, 0.13)
        long = self.width_of(words, size_pt)
        middle = (ends[0] + ends[1]) / 2
        span = float(high[axis] - low[axis])
        if long + 1 > span:
            # too short for its own figure: write it past the far end
            middle[axis] = ends[1][axis] + 1.2 + long / 2
        x, y = middle + ((0, 1.4) if axis == 0 else (-1.4, 0))
        self.text(float(x), float(y), words, size_pt=size_pt, ha="center", rotation=90 * axis)

    def save(self, path: Path, *, overwrite: bool) -> None:
        """Write the sheet as .svg, .pdf or .png, whole or not at all; see `saved`."""
        with saved(path, overwrite=overwrite) as (part, metadata):
            self.figure.savefig(part, format=path.suffix.lower()[1:], dpi=200, metadata=metadata)


@contextmanager
def saved(path: Path, *, overwrite: bool) -> Iterator[tuple[Path, dict[str, Any] | None]]:
    """Give a temporary path and reproducible metadata for one drawing, in a quiet matplotlib.

    Raises
    ------
    InputError
        The ending is none of `FORMATS`, or the destination cannot be written.
    """
    import matplotlib as mpl

    kind = path.suffix.lower()
    if kind not in FORMATS:
        raise InputError(
            f"a drawing cannot be written as {kind or 'a file without an ending'}",
            where=str(path),
            remedy=f"use {', '.join(FORMATS)}",
        )
    metadata: dict[str, Any] | None = {".svg": {"Date": None}, ".pdf": {"CreationDate": None}}.get(kind)
    # text stays text, so that it can be read, searched and edited; a letter that the font lacks is no reason to complain
    logging.getLogger("fontTools").setLevel(logging.ERROR)
    with (
        mpl.rc_context({"svg.fonttype": "none", "pdf.fonttype": 42, "svg.hashsalt": "ghostprep"}),
        warnings.catch_warnings(),
        whole_file(path, overwrite=overwrite) as part,
    ):
        warnings.filterwarnings("ignore", message=".*[Gg]lyph.*missing")
        yield part, metadata
