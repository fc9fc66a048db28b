"""Takes the flicker of noise out of a figure, so that the encoder need not carry it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Final, TypeAlias

import cv2
import numpy as np
import numpy.typing as npt

Frame: TypeAlias = npt.NDArray[np.uint8]

_LEAST: Final = np.float32(0.25)


MEMORY: Final = 8
"""Frames after which what was before has no more weight."""


def steadied(frames: Iterable[Frame], codes: float, *, before: Sequence[Frame] = ()) -> Iterator[Frame]:
    """Yield a loop's frames steadied.

    Parameters
    ----------
    frames : iterable of ndarray of uint8 (h, w, 3)
    codes : float
        See `Steady`.
    before : sequence of ndarray of uint8 (h, w, 3)
        The loop's last frames: what is seen before its first one. What is mixed with the past
        trails a little, and without them the first frame would not: a jump where it starts over.
    """
    steady = Steady(codes)
    for frame in before:
        steady(frame)
    for frame in frames:
        yield steady(frame)


class Steady:
    """Mixes each frame with those before it where they differ by no more than noise does.

    Parameters
    ----------
    codes : float
        Where the largest channel differs by this much or more (mean over 3x3 pixels), the frame
        stays as it is; the less it differs, the more of what was before is kept, up to three
        quarters.

    Raises
    ------
    ValueError
        `codes` is not above 0.
    """

    def __init__(self, codes: float) -> None:
        if codes <= 0:
            raise ValueError(f"codes is {codes}, it must be above 0")
        self._codes = np.float32(codes)
        self._kept: npt.NDArray[np.float32] | None = None

    def __call__(self, frame: Frame) -> Frame:
        """Return the next frame, uint8 (h, w, 3), steadied; black stays black."""
        new = frame.astype(np.float32)
        if self._kept is None or self._kept.shape != new.shape:
            self._kept = new
            return frame
        apart = cv2.absdiff(new, self._kept)
        largest = np.maximum(np.maximum(apart[..., 0], apart[..., 1]), apart[..., 2])
        share = np.clip(cv2.blur(largest, (3, 3)) / self._codes, _LEAST, 1)
        self._kept = np.asarray(self._kept + share[..., None] * (new - self._kept), np.float32)
        black = ~frame.any(axis=-1)
        self._kept[black] = 0
        return np.rint(self._kept).astype(np.uint8)
