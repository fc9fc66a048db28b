"""A large clip's frames at a half, a quarter or an eighth of their size, and parts of them kept.

Reading a large clip costs most of a run. Where it is short, most of it is in the loop, and reading it
twice would nearly double the work. So one pass delivers it at such a size, and the part that will be
asked for is kept. Whether it is found there or has to be decoded again, it is the same.
"""

from __future__ import annotations

from typing import Final, Self

import cv2
import numpy as np

from ghostprep.arrays import Frame
from ghostprep.box import Box
from ghostprep.clip.facts import ClipFacts
from ghostprep.clip.store import FrameStore, KeptFrames

SHORT_S: Final = 30.0
"""In longer clips the loop is a small part, and reading that again costs less than keeping all."""
LARGE: Final = 1900
"""Longer side, pixels, from which reading is what costs."""
DELIVERED: Final = 960
"""The delivered longer side is at least so many pixels."""
FINER: Final = 1.4
"""The delivered picture must have so many times the pixels that are asked for, along each side."""
KEPT_BYTES: Final = 1 << 30
"""The most temporary disk that kept frames may take."""


def shrink_of(facts: ClipFacts) -> int:
    """Return by how much a clip is shrunk on delivery: 2, 4 or 8; 1 where it is not delivered so."""
    longest = max(facts.size)
    if longest < LARGE or facts.alpha != "none" or not 0 < (facts.duration_s or 0) <= SHORT_S:
        return 1
    fitting = [s for s in (8, 4, 2) if longest // s >= DELIVERED and not any(n % s for n in facts.size)]
    return fitting[0] if fitting else 1


def serves(part: Box, size: tuple[int, int], shrink: int) -> bool:
    """Return whether the delivered picture is fine enough for a part at a size, and can be cut to it."""
    on_grid = not any(n % shrink for n in part)
    scale = max(size[0] / part.width, size[1] / part.height)
    return shrink > 1 and on_grid and scale * shrink * FINER <= 1


def cut_out(frame: Frame, part: Box, shrink: int, origin: tuple[int, int], size: tuple[int, int]) -> Frame:
    """Return a part of a delivered frame, scaled.

    Parameters
    ----------
    frame : ndarray of uint8 (h, w, 3)
        As delivered, or a region of it.
    part : Box
        Source pixels, on the grid of `shrink`.
    origin : tuple of int
        Where the frame's corner lies in the source, source pixels.
    """
    x, y = (part.x - origin[0]) // shrink, (part.y - origin[1]) // shrink
    cut = frame[y : y + part.height // shrink, x : x + part.width // shrink]
    return np.asarray(cv2.resize(cut, size, interpolation=cv2.INTER_AREA), np.uint8)


class ShrunkFrames:
    """Delivered frames, cut to a region and kept.

    Parameters
    ----------
    region : Box
        Source pixels, on the grid of `shrink`.
    """

    def __init__(self, region: Box, shrink: int) -> None:
        self.region = region
        self._shrink = shrink
        self._size = region.width // shrink, region.height // shrink
        self._kept = KeptFrames(FrameStore(self._size), KEPT_BYTES)
        self.close = self._kept.close

    @classmethod
    def worth(cls, facts: ClipFacts, part: Box, size: tuple[int, int]) -> Self | None:
        """Return where to keep frames in which about `part` will be wanted at about `size`; None: nowhere.

        The region is half as large again on each side, since the part is known from a few frames only and
        a raster's shape may ask for more beside it.
        """
        shrink = shrink_of(facts)
        scale = min(size[0] / part.width, size[1] / part.height)
        if shrink == 1 or scale * shrink * FINER > 1:
            return None
        grown = part.grown(max(part.width, part.height) // 2).within(facts.size)
        x, y = grown.x // shrink * shrink, grown.y // shrink * shrink
        width, height = -(-(grown.right - x) // shrink) * shrink, -(-(grown.bottom - y) // shrink) * shrink
        return cls._with_room(facts, Box(x, y, width, height), shrink)

    @classmethod
    def of_all(cls, facts: ClipFacts) -> Self | None:
        """Return where to keep whole frames; None where the clip is not delivered smaller, or is too long."""
        shrink = shrink_of(facts)
        return None if shrink == 1 else cls._with_room(facts, Box(0, 0, *facts.size), shrink)

    @classmethod
    def _with_room(cls, facts: ClipFacts, region: Box, shrink: int) -> Self | None:
        count = float(facts.rate) * (facts.duration_s or 0)
        each = (region.width // shrink) * (region.height // shrink) * 3
        return cls(region, shrink) if count * each <= KEPT_BYTES else None

    def put(self, number: int, frame: Frame) -> None:
        """Keep the region of a delivered frame; they come in order."""
        x, y = self.region.x // self._shrink, self.region.y // self._shrink
        self._kept.put(number, frame[y : y + self._size[1], x : x + self._size[0]])

    def holds(self, part: Box, first: int, last: int) -> bool:
        """Return whether a part of the source frames `first` to `last` is here."""
        return self.region.union(part) == self.region and self._kept.holds(first, last)

    def cut(self, number: int, part: Box, size: tuple[int, int]) -> Frame:
        """Return a part of a source frame, scaled."""
        return cut_out(self._kept[number], part, self._shrink, (self.region.x, self.region.y), size)
