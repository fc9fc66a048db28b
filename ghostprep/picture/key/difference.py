"""The key against a clean plate: what differs from it is figure."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from ghostprep.picture.key.guided import guided_filter
from ghostprep.picture.key.keyed import Bytes, Floats, Keyed, floats


@dataclass(frozen=True, eq=False)
class DifferenceKeyer:
    """Keys frames of one crop and size against a clean plate.

    Attributes
    ----------
    plate : ndarray of float32 (h, w, 3)
        The scene without the figure, R'G'B' codes.
    noise : float
        Codes within which frame and plate count as equal.
    """

    plate: Floats
    noise: float

    def __call__(self, frame: Bytes) -> Keyed:
        """Key one frame (h, w, 3)."""
        codes = frame[..., :3].astype(np.float32)
        apart = np.abs(codes - self.plate).max(-1)
        raw = np.clip((apart - 3 * self.noise) / (5 * self.noise), 0, 1)
        alpha = np.clip((guided_filter(floats(codes.mean(-1)), floats(raw), 3, 60.0) - 0.25) / 0.6, 0, 1)
        figure = np.clip(np.rint(codes * alpha[..., None]), 0, 255).astype(np.uint8)
        matte = np.rint(alpha * 255).astype(np.uint8)
        return Keyed(cv2.copyTo(figure, matte).astype(np.uint8, copy=False), matte)
