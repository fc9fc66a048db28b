"""The key for a dark backing: take its floor away, with a soft toe."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ghostprep.picture.key.keyed import Bytes, Floats, Keyed


@dataclass(frozen=True, eq=False)
class DarkKeyer:
    """Keys frames of one crop and size against a dark plate.

    Attributes
    ----------
    plate : ndarray of float32 (h, w, 3)
        The dark backing at each place, R'G'B' codes.
    toe : float
        Codes above the plate within which the figure sets in softly.
    """

    plate: Floats
    toe: float

    def __call__(self, frame: Bytes) -> Keyed:
        """Key one frame (h, w, 3)."""
        over = frame[..., :3].astype(np.float32) - self.plate
        light = over.max(-1)
        t = np.clip((light - 1.6 * self.toe) / (3 * self.toe), 0, 1)
        ramp = t * t * (3 - 2 * t)
        figure = np.clip(np.rint(over * ramp[..., None]), 0, 255).astype(np.uint8)
        return Keyed(figure, np.rint(ramp * 255).astype(np.uint8))
