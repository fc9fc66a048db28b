"""Cuts away what lies outside the backing, and keeps the figure where it steps out there."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from ghostprep.picture.key.keyed import Bytes, Floats, Keyed, as_bytes, floats

_SAME, _OTHER = 3.0, 7.0
"""Difference from what stands there, in units of its noise: bare below the first, figure above the second."""


@dataclass(frozen=True, eq=False)
class Beside:
    """What lies outside the backing, at the crop and size of the frames.

    Attributes
    ----------
    mask : ndarray of float32 (h, w)
        1 outside, 0 on the backing.
    plate : ndarray of uint8 (h, w, 3)
        What stands there, R'G'B' codes.
    noise : ndarray of float32 (h, w)
        Sigma around it, codes.
    """

    mask: Floats
    plate: Bytes
    noise: Floats

    def cut(self, frame: Bytes, keyed: Keyed) -> Keyed:
        """Put the difference from what stands there in place of the key, outside the backing."""
        apart = cv2.cvtColor(cv2.absdiff(frame, self.plate), cv2.COLOR_RGB2GRAY)
        level = cv2.blur(apart, (5, 5)).astype(np.float32) / self.noise
        there = np.clip((level - _SAME) / (_OTHER - _SAME), 0, 1)
        # a figure that steps out hangs together with the one on the backing; what moves elsewhere goes
        there *= _reached(there, keyed.matte, self.mask)
        alpha = keyed.matte * (1 - self.mask) + 255 * there * self.mask
        share = floats(there * self.mask)[..., None]
        figure = keyed.figure * (1 - self.mask[..., None]) + frame * share
        matte = as_bytes(np.rint(alpha).astype(np.uint8))
        return Keyed(as_bytes(cv2.copyTo(np.rint(figure).astype(np.uint8), matte)), matte)


def _reached(there: Floats, matte: Bytes, mask: Floats) -> Floats:
    """Return 1 on the parts outside that touch the figure on the backing."""
    outside = mask > 0.5
    figure = (matte > 127) & ~outside
    parts = ((there > 0.3) & outside) | figure
    _, labels = cv2.connectedComponents(parts.astype(np.uint8), connectivity=8)
    touched = np.zeros(int(labels.max()) + 1, bool)
    touched[labels[figure]] = True
    touched[0] = False
    near = cv2.dilate(touched[labels].astype(np.uint8), np.ones((5, 5), np.uint8))
    return floats(near)
