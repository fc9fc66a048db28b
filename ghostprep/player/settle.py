"""What a draft kept of the figure, on black that is black again: frames that cost little to code finely.

Black comes back exactly only if the blocks in which figure and black meet are coded almost without loss, and
then most bits go to what nobody sees: the figure's finest detail in those blocks, frame after frame. So the
figure is coded coarsely first. What that draft decodes to is then coded again: predicted from its own past it
leaves next to nothing to be coded, and the bits are left to the rim alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final

import cv2
import numpy as np

from ghostprep.arrays import Frame, Mask
from ghostprep.black import NEUTRAL
from ghostprep.errors import JobError
from ghostprep.player.guard import Guard, lit

_BLOCK: Final = 8
"""Pixels along a side of the squares that are held or followed as a whole."""


def settled(
    frames: Iterable[Frame], drafted: Iterable[Frame], guard: Guard, *, black: int, hold: float = 0.0
) -> Iterator[Frame]:
    """Yield a draft's planes with black made black again outside the figure.

    Parameters
    ----------
    frames, drafted : iterable of ndarray of uint8
        What the draft was made of with `guard`, RGB (h, w, 3), 0 outside the figure; and the draft as
        decoded, planar 4:2:0 (h * 3 // 2, w), as what comes out.
    black : int
        Luma of black.
    hold : float
        A block at the rim in which nothing changes by more than this code stays as it was: a rim that
        wavers by a tenth of a pixel costs as many bits as one that walks, and is not seen to waver.

    Raises
    ------
    JobError
        The draft has fewer or more pictures than went into it.
    """
    rim = _Rim(hold) if hold else None
    try:
        for frame, planes in zip(frames, drafted, strict=True):
            inside = lit(frame, guard) > 0
            settle = planes.copy()
            _blacken(settle, inside, black)
            yield settle if rim is None else rim(settle, inside, black)
    except ValueError as wrong:
        raise JobError("the draft has another number of pictures than went into it") from wrong


def _blacken(planes: Frame, inside: Mask, black: int) -> None:
    """Make all black that is not inside the figure; colour where any of its 2x2 pixels is not."""
    height, width = inside.shape
    outside = (~inside).view(np.uint8)
    rows = outside[0::2] | outside[1::2]
    colourless = rows[:, 0::2] | rows[:, 1::2]
    # a masked copy of NumPy takes twice the time
    cv2.copyTo(np.full_like(outside, black), outside, planes[:height])
    for plane in planes[height:].reshape(2, height // 2, width // 2):
        cv2.copyTo(np.full_like(plane, NEUTRAL), colourless, plane)


class _Rim:
    """Holds blocks of 8x8 at the rim for as long as nothing in them changes by much."""

    def __init__(self, codes: float) -> None:
        self._codes = codes
        self._last: Frame | None = None

    def __call__(self, planes: Frame, inside: Mask, black: int) -> Frame:
        """Return a frame, its rim held where it can be; the figure's outline is the new one's."""
        if self._last is not None:
            held = self._last.copy()
            _blacken(held, inside, black)
            height, width = inside.shape
            apart = np.asarray(cv2.absdiff(planes, held), np.uint8)
            colour = apart[height:].reshape(2, height // 2, width // 2).max(axis=0)
            keep = _largest(apart[:height], _BLOCK) <= self._codes
            # an error in colour spreads over four pixels
            keep &= _largest(colour, _BLOCK // 2) <= 0.75 * self._codes
            keep &= _largest((~inside).view(np.uint8), _BLOCK) > 0
            _take_over(planes[:height], held[:height], keep, _BLOCK)
            pairs = (one[height:].reshape(2, height // 2, width // 2) for one in (planes, held))
            for new, old in zip(*pairs, strict=True):
                _take_over(new, old, keep, _BLOCK // 2)
        self._last = planes
        return planes


def _take_over(new: Frame, old: Frame, keep: Mask, side: int) -> None:
    """Copy the blocks to be kept from one plane to another."""
    size = keep.shape[1] * side, keep.shape[0] * side
    spread = cv2.resize(keep.view(np.uint8), size, interpolation=cv2.INTER_NEAREST)
    cv2.copyTo(old, spread[: new.shape[0], : new.shape[1]], new)


def _largest(plane: Frame, side: int) -> Frame:
    """Return the largest of each block; blocks at the far edges may be smaller."""
    height, width = plane.shape
    down, right = -height % side, -width % side
    if down or right:
        plane = np.asarray(cv2.copyMakeBorder(plane, 0, down, 0, right, cv2.BORDER_REPLICATE), np.uint8)
    # along whole rows, twice: a twelfth of the time of NumPy's maximum by stretches
    rows = plane.reshape(-1, side, plane.shape[1]).max(axis=1)
    columns = np.ascontiguousarray(rows.T).reshape(-1, side, rows.shape[0]).max(axis=1)
    return np.asarray(columns.T, np.uint8)
