"""Frames that need no key: those with their own alpha, and those that are the figure already."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from ghostprep.picture.key.keyed import Bytes, Keyed


@dataclass(frozen=True)
class AlphaKeyer:
    """Takes the matte from the frame's own alpha.

    Attributes
    ----------
    premultiplied : bool
        Whether colour was multiplied by alpha already; if not, it is done here.
    """

    premultiplied: bool

    def __call__(self, frame: Bytes) -> Keyed:
        """Take one frame (h, w, 4)."""
        matte = np.ascontiguousarray(frame[..., 3])
        colour = np.ascontiguousarray(frame[..., :3])
        if not self.premultiplied:
            colour = cv2.multiply(colour, cv2.merge((matte, matte, matte)), scale=1 / 255)  # type: ignore[assignment]
        figure: Bytes = np.where(matte[..., None] > 0, colour, 0).astype(np.uint8)
        return Keyed(figure, matte)


@dataclass(frozen=True)
class OpenKeyer:
    """Lets everything through: the whole frame is the figure."""

    def __call__(self, frame: Bytes) -> Keyed:
        """Take one frame (h, w, 3)."""
        return Keyed(frame[..., :3].copy(), np.full(frame.shape[:2], 255, np.uint8))
