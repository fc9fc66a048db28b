"""The key for an even coloured backing, at any hue: subtract as much of the plate as its hue shows."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from ghostprep.picture.key.guided import guided_filter
from ghostprep.picture.key.hue import HueAxis
from ghostprep.picture.key.keyed import Bytes, Floats, Keyed, floats


@dataclass(frozen=True, eq=False)
class ChromaKeyer:
    """Keys frames of one crop and size against a coloured plate.

    Attributes
    ----------
    plate : ndarray of float32 (h, w, 3)
        The backing as it looks at each place, R'G'B' codes.
    axis : HueAxis
        The backing's hue.
    """

    plate: Floats
    axis: HueAxis

    def __call__(self, frame: Bytes) -> Keyed:
        """Key one frame (h, w, 3)."""
        codes = frame[..., :3].astype(np.float32)
        turned = cv2.transform(codes, self.axis.rows())
        strength = np.maximum(turned[..., 1] - self.axis.slope * np.abs(turned[..., 2]), 0)
        raw = strength / np.maximum(self.axis.strength(self.plate), 1)
        smooth = guided_filter(np.ascontiguousarray(turned[..., 0]), floats(raw), 4, 30.0)
        clear = np.clip((smooth - 0.04) / (0.85 - 0.04), 0, 1)
        figure = codes - np.maximum(raw, clear)[..., None] * self.plate
        figure[clear >= 1] = 0
        matte = np.rint((1 - clear) * 255).astype(np.uint8)
        return Keyed(np.clip(np.rint(figure), 0, 255).astype(np.uint8), matte)
