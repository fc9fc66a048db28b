"""Small pictures of a figure, in light, for comparing frames."""

from __future__ import annotations

from typing import Final

import cv2
import numpy as np

from ghostprep.arrays import Frame, Light
from ghostprep.box import small_size
from ghostprep.transfer import luminance

THUMBNAIL: Final = (32, 18)
"""Width and height at which all frames are compared with all."""
COLOUR: Final = (8, 4)
"""Width and height at which their colour is: enough to tell a red lamp from a green one of the same light."""
WORKING: Final = 160
"""Longer side at which steps and blends are measured."""


def shrink(figure: Frame) -> Frame:
    """Return `figure` (h, w, 3) scaled so that its longer side is at most `WORKING` pixels."""
    height, width = figure.shape[:2]
    if max(height, width) <= WORKING:
        return figure
    size = small_size((width, height), WORKING)
    return np.asarray(cv2.resize(figure, size, interpolation=cv2.INTER_AREA), np.uint8)


def thumbnail(light: Light) -> Light:
    """Return luminance and colour of a frame (h, w, 3) of linear RGB, 0..1, as one short vector (640,).

    It has 576 luminances, then 32 differences each of R and B to it. All are linear in light, so the mean of
    two vectors is the vector of the two frames' crossfade.
    """
    small = np.asarray(cv2.resize(light, THUMBNAIL, interpolation=cv2.INTER_AREA), np.float32)
    grey = luminance(small)
    colour = np.asarray(cv2.resize(small, COLOUR, interpolation=cv2.INTER_AREA), np.float32)
    base = luminance(colour)
    return np.concatenate([grey.ravel(), (colour[..., 0] - base).ravel(), (colour[..., 2] - base).ravel()])
