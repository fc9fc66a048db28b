"""The part of a frame that is worth the work, on a grid that the small pictures share."""

from __future__ import annotations

from typing import NamedTuple, TypeVar

import cv2
import numpy as np
import numpy.typing as npt

from ghostprep.arrays import Floats, Frame
from ghostprep.picture.key.keyed import floats

Picture = TypeVar("Picture", Frame, Floats)

_MARGIN = 4
"""Small pixels around what was seen: the windows of the edge's smoothing and the softest hair lie within."""
_GRID = 4
"""What the sides of all pictures are multiples of, so that the smaller ones show the same places exactly."""


class Region(NamedTuple):
    """A rectangle of a picture, rows and columns from `top`, `left` up to `bottom`, `right`."""

    top: int
    left: int
    bottom: int
    right: int

    @classmethod
    def around(cls, seen: npt.NDArray[np.bool_] | Floats, step: int = 1) -> Region | None:
        """Return the rectangle around what is true, with a margin; None if nothing is.

        Its sides are multiples of `step`, as those of `seen` must be.
        """
        x, y, w, h = cv2.boundingRect((seen > 0).view(np.uint8))
        if w == 0:
            return None
        ends = [
            (max(a - _MARGIN, 0) // step * step, min(-(-(a + length + _MARGIN) // step) * step, whole))
            for a, length, whole in ((y, h, seen.shape[0]), (x, w, seen.shape[1]))
        ]
        return cls(ends[0][0], ends[1][0], ends[0][1], ends[1][1])

    @property
    def cut(self) -> tuple[slice, slice]:
        """Return the slices that cut it from an array."""
        return slice(self.top, self.bottom), slice(self.left, self.right)

    @property
    def size(self) -> tuple[int, int]:
        """Return its width and height."""
        return self.right - self.left, self.bottom - self.top

    def scaled(self, times: int, over: int = 1) -> Region:
        """Return the same place on a picture `times` larger and `over` smaller, where that is exact."""
        return Region(*(times * x // over for x in self))


def shrink_for(size: tuple[int, int]) -> int:
    """Return by how much smaller the picture is on which the figure's inside is judged."""
    return 4 if max(size) >= 480 else 2 if max(size) >= 200 else 1


def filled_up(picture: Picture) -> Picture:
    """Repeat the last row and column until both sides are multiples of what pictures are shrunk by."""
    h, w = picture.shape[:2]
    down, right = -h % _GRID, -w % _GRID
    if not (down or right):
        return picture
    return cv2.copyMakeBorder(picture, 0, down, 0, right, cv2.BORDER_REPLICATE)  # type: ignore[return-value]


def shrunk(picture: Floats | Frame, factor: int) -> Floats:
    """Return the means (float32) of a picture's blocks; `factor` divides both its sides."""
    if factor == 1:
        return floats(picture)
    size = (picture.shape[1] // factor, picture.shape[0] // factor)
    return floats(cv2.resize(picture, size, interpolation=cv2.INTER_AREA))
