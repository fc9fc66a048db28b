"""Which of the figure's hues are to be expected where: those that are seen nearby."""

from __future__ import annotations

import cv2
import numpy as np

from ghostprep.arrays import Floats, Mask
from ghostprep.channels import squared
from ghostprep.picture.key.curve import Curve
from ghostprep.picture.key.keyed import floats
from ghostprep.picture.key.palette import DARK, AgainstPlate, Palette

_SEEN = 12.0
"""Codes off a hue up to which a place shows it."""
_REACHES = ((3, 1.0), (9, 0.2), (25, 0.04))
"""Small pixels around a place that shows a hue in which it is expected, and how much."""
_ELSEWHERE = 0.002
"""How much all are expected together where they are nowhere near."""
_AROUND = np.ones((3, 3), np.uint8)


def hues_near(palette: Palette, curve: Curve, picture: AgainstPlate, empty: Mask) -> Floats:
    """Return how much each hue is to be expected at each place, (h, w, k): from nearly 0 to 1.24.

    Parameters
    ----------
    palette : Palette
        k hues.
    curve : Curve
        Of the amounts.
    picture : AgainstPlate
        (h, w, 3); a small one will do, since what is near is near at any size.
    empty : ndarray of bool (h, w)
        Where it shows the backing and nothing else.
    """
    light = picture.light
    square = squared(light)
    apart = []
    for hue, through in zip(palette.hues, palette.through, strict=True):
        rest = light if through == 0 else floats(light - through * picture.plate)
        own = np.maximum(rest @ hue, 0)
        apart.append((square if through == 0 else squared(rest)) - own * own)
    off = floats(np.stack(apart) / curve.a_code_in(light) ** 2)
    shows = (off.min(0) < _SEEN**2) & (square > DARK**2) & ~empty
    nearest = np.where(shows, off.argmin(0), len(off)).astype(np.uint8)
    nearest[cv2.erode(nearest, _AROUND) != cv2.dilate(nearest, _AROUND)] = len(off)
    seen = np.eye(len(off) + 1, len(off), dtype=np.uint8)[nearest]
    near = np.full(seen.shape, _ELSEWHERE / len(off), np.float32)
    for reach, much in _REACHES:
        cv2.scaleAdd(cv2.boxFilter(seen, cv2.CV_32F, (reach, reach)), much, near, dst=near)
    return near
