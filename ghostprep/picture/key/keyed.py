"""What a key gives for each frame."""

from __future__ import annotations

from typing import NamedTuple, Protocol

import cv2
import numpy as np
import numpy.typing as npt

from ghostprep.arrays import Figure, Floats, Frame
from ghostprep.transfer import rounded


class Keyed(NamedTuple):
    """One keyed frame."""

    figure: Figure
    """(h, w, 3): the figure premultiplied on black, 257 to a code; exactly 0 outside it."""
    matte: Frame
    """(h, w): its coverage, 0..255."""

    @property
    def codes(self) -> Frame:
        """The figure in 8-bit codes, for what looks at it and does not show it."""
        return rounded(self.figure)

    def within(self, mask: Frame) -> Keyed:
        """Return what of it lies where a mask (h, w) is not 0."""
        figure, matte = cv2.copyTo(self.figure, mask), cv2.copyTo(self.matte, mask)
        return Keyed(np.asarray(figure, np.uint16), np.asarray(matte, np.uint8))


class Keyer(Protocol):
    """Takes the backing out of frames of one crop and size; keeps nothing from frame to frame."""

    def __call__(self, frame: Frame) -> Keyed:
        """Key one frame (h, w, 3), or (h, w, 4) where the clip has alpha."""


def floats(array: npt.ArrayLike) -> Floats:
    """Return `array` as float32; what is float32 already is not copied."""
    return np.asarray(array, np.float32)


def to_codes(values: npt.ArrayLike) -> Frame:
    """Return the nearest 8-bit codes of values of any shape; clips to 0..255."""
    return np.clip(np.rint(values), 0, 255).astype(np.uint8)


def as_bytes(array: npt.ArrayLike) -> Frame:
    """Return `array` as uint8; what is uint8 already is not copied."""
    return np.asarray(array, np.uint8)


def pixels_at(picture: Floats, at: npt.NDArray[np.intp]) -> Floats:
    """Return pixels (c, n) of a picture (h, w, c), channels first: numpy is slow along a short last axis."""
    return picture.reshape(-1, picture.shape[-1]).take(at, 0).T.copy()


def put_pixels(picture: Floats, at: npt.NDArray[np.intp], pixels: Floats) -> None:
    """Set pixels (c, n) of a picture (h, w, c), in place."""
    for channel, values in zip(picture.reshape(-1, len(pixels)).T, pixels, strict=True):
        channel[at] = values
