"""A rectangle of whole pixels, and a size that fits a limit."""

from __future__ import annotations

from typing import NamedTuple


class Box(NamedTuple):
    """A rectangle of whole pixels; x to the right, y down, from the picture's top left.

    Attributes
    ----------
    x, y : int
        Top left pixel.
    width, height : int
        Size in pixels; 0 means empty.
    """

    x: int
    y: int
    width: int
    height: int

    @property
    def right(self) -> int:
        """First column to the right of the box."""
        return self.x + self.width

    @property
    def bottom(self) -> int:
        """First row below the box."""
        return self.y + self.height

    @property
    def empty(self) -> bool:
        """Whether the box holds no pixel."""
        return self.width <= 0 or self.height <= 0

    def union(self, other: Box) -> Box:
        """Return the smallest box that holds both; an empty one adds nothing.

        >>> Box(0, 0, 2, 2).union(Box(4, 1, 1, 5))
        Box(x=0, y=0, width=5, height=6)
        """
        if self.empty:
            return other
        if other.empty:
            return self
        x, y = min(self.x, other.x), min(self.y, other.y)
        return Box(x, y, max(self.right, other.right) - x, max(self.bottom, other.bottom) - y)

    def grown(self, margin: int) -> Box:
        """Return the box with `margin` pixels more on each side."""
        return Box(self.x - margin, self.y - margin, self.width + 2 * margin, self.height + 2 * margin)

    def within(self, size: tuple[int, int]) -> Box:
        """Return the part of the box that lies in a picture of ``size`` (width, height)."""
        x, y = max(self.x, 0), max(self.y, 0)
        return Box(x, y, max(min(self.right, size[0]) - x, 0), max(min(self.bottom, size[1]) - y, 0))


def small_size(size: tuple[int, int], longest: int) -> tuple[int, int]:
    """Return `size` scaled so that its longer side is at most `longest`, never enlarged."""
    scale = min(1.0, longest / max(size))
    return max(round(size[0] * scale), 1), max(round(size[1] * scale), 1)
