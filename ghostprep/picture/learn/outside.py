"""The garbage matte: what lies outside a backing that does not fill the frame."""

from __future__ import annotations

import cv2
import numpy as np

from ghostprep.arrays import Frame, Mask
from ghostprep.picture.key.keyed import as_bytes, floats
from ghostprep.picture.key.outside import Outside
from ghostprep.picture.learn.still import find_still


def find_outside(frames: Frame, empty: Mask, noise: float) -> Outside | None:
    """Find what lies outside the backing, None if the backing fills the frame.

    A place within the hull of the backing belongs to it even if the figure always hides it.

    Parameters
    ----------
    frames : ndarray of uint8 (n, h, w, 3)
    empty : ndarray of bool (n, h, w)
        Where each frame shows nothing but the backing.
    noise : float
        Sigma of the frames, codes.
    """
    border = hull_of(empty)
    if border is None or float(border.mean()) > 0.985:
        return None
    mask = cv2.blur(cv2.dilate(1 - border, np.ones((7, 7), np.uint8)).astype(np.float32), (3, 3))
    plate = find_still(frames).plate
    steps = cv2.morphologyEx(plate.mean(-1), cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8))
    return Outside(floats(mask), plate, floats(noise + 0.4 * steps))


def hull_of(empty: Mask) -> Frame | None:
    """Return 1 (h, w) within the hull of all places that showed the backing, None if none did."""
    ever = cv2.morphologyEx(empty.max(0).view(np.uint8), cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))
    if not ever.any():
        return None
    hull = np.zeros(ever.shape, np.uint8)
    cv2.fillConvexPoly(hull, cv2.convexHull(cv2.findNonZero(ever)), 1)
    # `empty` was cut by a rim, so its edge lies inside the backing's
    return _framed(as_bytes(cv2.dilate(hull, np.ones((5, 5), np.uint8))))


def _framed(hull: Frame) -> Frame:
    """Carry the hull out to the frame's edge where it all but touches it."""
    h, w = hull.shape[:2]
    near = max(round(0.025 * max(h, w)), 4)
    out = hull.copy()
    for lines in (out, out.T):
        lines[:near] |= lines[:near].max(0)
        lines[-near:] |= lines[-near:].max(0)
    return out
