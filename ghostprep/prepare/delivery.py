"""At which size the decoder delivers a clip, and frames of the survey that the render need not decode again.

Reading a large clip costs most of a run. Where it is short, most of it is in the loop, and reading it
twice would nearly double the work. So the survey's pass delivers it at a half, a quarter or an eighth of its
size, and what the figure touches is kept. Whether the render finds its frames there or has to decode
them again, they are the same.
"""

from __future__ import annotations

from types import TracebackType
from typing import Final, Self, TypeAlias

import cv2
import numpy as np
import numpy.typing as npt

from ghostprep.box import Box
from ghostprep.clip import ClipFacts
from ghostprep.errors import JobError
from ghostprep.prepare.fit import Fit, on_grid
from ghostprep.prepare.store import FrameStore

Frame: TypeAlias = npt.NDArray[np.uint8]

SHORT_S: Final = 30.0
"""In longer clips the loop is a small part, and reading that again costs little."""

LARGE: Final = 1900
"""Longer side, pixels, from which reading is what costs."""

DELIVERED: Final = 960
"""The delivered longer side is at least so many pixels."""

FINER: Final = 1.4
"""The delivered picture must have so many times the pixels that the raster shows, along each side."""

KEPT_BYTES: Final = 1 << 30
"""The most temporary disk that kept frames may take."""


def shrink_of(facts: ClipFacts) -> int:
    """Return by how much a clip is shrunk on delivery: 2, 4 or 8; 1 where it is not delivered so."""
    longest = max(facts.size)
    if longest < LARGE or facts.alpha != "none" or not 0 < (facts.duration_s or 0) <= SHORT_S:
        return 1
    fitting = [s for s in (8, 4, 2) if longest // s >= DELIVERED and not any(n % s for n in facts.size)]
    return fitting[0] if fitting else 1


def serves(fit: Fit, shrink: int) -> bool:
    """Return whether the delivered picture holds all that a fit shows."""
    crop = fit.crop
    on_grid = not any(n % shrink for n in (crop.x, crop.y, crop.width, crop.height))
    return shrink > 1 and on_grid and fit.scale * shrink * FINER <= 1


def keep(facts: ClipFacts, expected: Fit) -> Kept | None:
    """Return where to keep the frames that a fit about like the expected one will need; None: nowhere.

    The region is a quarter of the figure's box wider on each side: glimpses do not show all of the motion.
    """
    shrink = shrink_of(facts)
    if not serves(expected, shrink):
        return None
    crop = expected.crop
    region = on_grid(crop.grown(max(crop.width, crop.height) // 4), facts.size, shrink)
    count = float(facts.rate) * (facts.duration_s or 0)
    if count * (region.width // shrink) * (region.height // shrink) * 3 > KEPT_BYTES:
        return None
    return Kept(region, shrink)


def cut_out(frame: Frame, crop: Box, shrink: int, origin: tuple[int, int], size: tuple[int, int]) -> Frame:
    """Return a crop of a delivered frame, at the size that a fit asks for.

    Parameters
    ----------
    frame : ndarray of uint8 (h, w, 3)
        As delivered, or the part of it that was kept.
    crop : Box
        Source pixels, on the grid of `shrink`.
    shrink : int
    origin : tuple of int
        Where the frame's corner lies in the source, source pixels.
    size : tuple of int
    """
    x, y = (crop.x - origin[0]) // shrink, (crop.y - origin[1]) // shrink
    part = frame[y : y + crop.height // shrink, x : x + crop.width // shrink]
    return np.asarray(cv2.resize(part, size, interpolation=cv2.INTER_AREA), np.uint8)


class Kept:
    """Delivered frames, cut to the region where the figure is expected.

    Parameters
    ----------
    region : Box
        Source pixels, on the grid of `shrink`.
    shrink : int
    """

    def __init__(self, region: Box, shrink: int) -> None:
        self.region = region
        self._shrink = shrink
        self._store: FrameStore | None = FrameStore((region.width // shrink, region.height // shrink))
        self._first = 0

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.drop()

    def put(self, index: int, frame: Frame) -> None:
        """Keep the part of a delivered frame; they come in order.

        A full disk is no error: nothing is kept then.
        """
        if self._store is None:
            return
        if not len(self._store):
            self._first = index
        x, y = self.region.x // self._shrink, self.region.y // self._shrink
        wide, high = self._store.size
        try:
            self._store.append(frame[y : y + high, x : x + wide])
        except JobError:
            self.drop()
        else:
            if len(self._store) * wide * high * 3 > KEPT_BYTES:
                self.drop()

    def drop(self) -> None:
        """Give the disk back."""
        if self._store is not None:
            self._store.close()
            self._store = None

    def holds(self, crop: Box, first: int, last: int) -> bool:
        """Return whether a crop of the source frames `first` to `last` is here."""
        if self._store is None or self.region.union(crop) != self.region:
            return False
        return self._first <= first and last < self._first + len(self._store)

    def __getitem__(self, index: int) -> Frame:
        """Return the kept part of a source frame."""
        if self._store is None:
            raise IndexError("nothing is kept")
        return self._store[index - self._first]
