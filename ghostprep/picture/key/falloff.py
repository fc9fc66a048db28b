"""Where light falls off to black, as a glow does, rather than ends at a body's outline."""

from __future__ import annotations

import cv2
import numpy as np

from ghostprep.arrays import Floats, Frame, Mask
from ghostprep.channels import largest_channel
from ghostprep.picture.key.keyed import as_bytes

_STEEP = 0.6
"""Share of its height that light climbs within two pixels at an outline; a glow's skirt climbs less."""
_LEAST = 8.0
"""Codes that an outline climbs at least: smaller steps are the coder's."""
_EVEN = 0.06
"""Share of its height, or two codes, within which light goes uphill: noise."""
_BESIDE, _NEAR = np.ones((3, 3), np.uint8), np.ones((5, 5), np.uint8)


def falls_off(above: Floats, bare: float) -> Mask:
    """Find the light from which a way leads to black that is downhill in every channel and over no outline.

    Holes are filled from the black (morphological reconstruction by erosion; Vincent, IEEE Trans. Image
    Processing 2(2), 1993): a body is one, behind its outline; a glow is a hill, and stays as it is.

    Parameters
    ----------
    above : ndarray of float32 (h, w, 3)
        A small picture's excess over the black, codes.
    bare : float
        Codes up to which it is black.

    Returns
    -------
    ndarray of bool (h, w)
        There, and in the black; not where the figure is a body.
    """
    light = as_bytes(cv2.convertScaleAbs(np.maximum(cv2.blur(above, (3, 3)), 0)))
    high = largest_channel(light)
    # an outline is looked for where it is sharpest
    sharp = as_bytes(cv2.convertScaleAbs(np.maximum(above, 0)))
    height, outline = _height(sharp), outlines(sharp, _STEEP)
    black = (high <= bare) & ~outline
    # gaps of a pixel in an outline are closed
    closed = (cv2.dilate(_full(outline), _BESIDE) > 0) & ~black
    ground = cv2.max(light, cv2.merge((_full(closed),) * 3))
    water = cv2.max(light, cv2.merge((_full(~black),) * 3))
    for turn in range(1, max(above.shape)):
        lower = cv2.max(cv2.erode(water, _BESIDE), ground)
        if turn % 8 == 0 and np.array_equal(lower, water):
            break
        water = lower
    raised = largest_channel(as_bytes(cv2.subtract(water, light)))
    downhill = ((raised <= np.maximum(_EVEN * height, 2)) & ~closed) | black
    return np.asarray((cv2.dilate(_full(downhill), _BESIDE) > 0) & ~outline, np.bool_)


def darkened(added: Floats, noise: float | Floats) -> Mask:
    """Return where (h, w) a picture is darker than its backing, given what it has more (h, w, 3)."""
    return np.asarray(cv2.blur(added, (3, 3)).min(-1) < -2 * noise, np.bool_)


def only_adds(added: Floats, body: Mask, bare: float) -> Mask:
    """Return where (h, w) a frame is its backing and light that falls off to nothing, which hides none of it.

    Parameters
    ----------
    added : ndarray of float32 (h, w, 3)
        The frame's excess over the backing.
    body : ndarray of bool (h, w)
        Where something hides the backing: there is no way through it.
    bare : float
        Excess up to which the backing is bare.
    """
    hill = added.copy()
    hill[body] = 255
    return np.asarray(falls_off(hill, bare) & ~body, np.bool_)


def outlines(codes: Frame, share: float) -> Mask:
    """Return where (h, w) a picture (h, w, 3) climbs by more than a share of its height within two pixels."""
    climb = largest_channel(as_bytes(cv2.morphologyEx(codes, cv2.MORPH_GRADIENT, _BESIDE)))
    return np.asarray(climb > np.maximum(share * _height(codes), _LEAST), np.bool_)


def _height(codes: Frame) -> Floats:
    return cv2.dilate(largest_channel(codes), _NEAR).astype(np.float32)


def _full(there: Mask) -> Frame:
    """Return 255 there, 0 elsewhere."""
    return there.view(np.uint8) * np.uint8(255)
