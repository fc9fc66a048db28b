"""A rectangle of whole pixels, and a size that fits a limit."""

from __future__ import annotations

from typing import NamedTuple


class Box(NamedTuple):
    """A rectangle of whole pixels; x to the right, y down, from the picture's top left."""

    # top left pixel
    x: int
    y: int
    # size in pixels; 0 means empty
    width: int
    height: int

    def __str__(self) -> str:
        """Return the box as ``--crop`` takes it: ``WxH+X+Y``."""
        return f"{self.width}x{self.height}+{self.x}+{self.y}"

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

    def grown(self, margin: int) -> Box:
        """Return the box with `margin` pixels more on each side."""
        return Box(self.x - margin, self.y - margin, self.width + 2 * margin, self.height + 2 * margin)

    def common(self, other: Box) -> Box:
        """Return the part that two boxes share.

        >>> Box(0, 0, 4, 4).common(Box(3, 1, 9, 2))
        Box(x=3, y=1, width=1, height=2)
        """
        x, y = max(self.x, other.x), max(self.y, other.y)
        right, bottom = min(self.right, other.right), min(self.bottom, other.bottom)
        return Box(x, y, max(right - x, 0), max(bottom - y, 0))

    def within(self, size: tuple[int, int]) -> Box:
        """Return the part of the box that lies in a picture of ``size`` (width, height)."""
        return self.common(Box(0, 0, *size))


def small_size(size: tuple[int, int], longest: int) -> tuple[int, int]:
    """Return `size` scaled so that its longer side is at most `longest`, never enlarged."""
    scale = min(1.0, longest / max(size))
    return max(round(size[0] * scale), 1), max(round(size[1] * scale), 1)
