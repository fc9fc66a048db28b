"""Frames that need no key: those with their own alpha, and those that are the figure already."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from ghostprep.arrays import Frame
from ghostprep.picture.key.keyed import Keyed
from ghostprep.transfer import CODE, figure_of_codes


@dataclass(frozen=True)
class AlphaKeyer:
    """Takes the matte from the frame's own alpha."""

    premultiplied: bool
    """Whether colour was multiplied by alpha already; if not, it is done here."""

    def __call__(self, frame: Frame) -> Keyed:
        """Take one frame (h, w, 4)."""
        matte = np.ascontiguousarray(frame[..., 3])
        colour = np.ascontiguousarray(frame[..., :3])
        cover = np.minimum(matte, 1) if self.premultiplied else matte
        whole = 1 if self.premultiplied else 255
        figure = cv2.multiply(colour, cv2.merge((cover,) * 3), scale=CODE / whole, dtype=cv2.CV_16U)
        return Keyed(np.asarray(figure, np.uint16), matte)


@dataclass(frozen=True)
class OpenKeyer:
    """Lets everything through: the whole frame is the figure."""

    def __call__(self, frame: Frame) -> Keyed:
        """Take one frame (h, w, 3)."""
        return Keyed(figure_of_codes(frame[..., :3]), np.full(frame.shape[:2], 255, np.uint8))
