"""Keyers that need no backing: for frames with alpha, for frames without a backing, and to paint a shape."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from ghostprep.arrays import Frame
from ghostprep.picture.key.keyed import Keyed, Keyer
from ghostprep.transfer import CODE, codes_to_light, figure_of_codes, figure_of_light


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


@dataclass(frozen=True)
class FillingKeyer:
    """Keeps another keyer's matte, and paints it in light of one colour, as a silhouette's shape needs."""

    keyer: Keyer
    colour: tuple[int, int, int]
    """Codes of the light that full coverage has; half the coverage has half the light."""

    def __call__(self, frame: Frame) -> Keyed:
        """Key one frame."""
        matte = self.keyer(frame).matte
        light = codes_to_light(np.array(self.colour, np.uint8))
        table = figure_of_light(np.arange(256, dtype=np.float32)[:, None] / np.float32(255) * light)
        figure = cv2.merge([cv2.LUT(matte, np.ascontiguousarray(table[:, k])) for k in range(3)])
        return Keyed(np.asarray(figure, np.uint16), matte)
