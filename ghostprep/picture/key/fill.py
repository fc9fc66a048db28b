"""A figure's shape, painted in light of one colour: what to do with a black silhouette."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from ghostprep.arrays import Frame
from ghostprep.picture.key.keyed import Keyed, Keyer
from ghostprep.transfer import codes_to_light, figure_of_light


@dataclass(frozen=True)
class FillingKeyer:
    """Keeps another keyer's matte, and paints it."""

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
