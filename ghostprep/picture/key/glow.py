"""A lamp's glow before an even backing: light that the figure adds and that covers nothing."""

from __future__ import annotations

from typing import Final

import cv2
import numpy as np

from ghostprep.picture.key.keyed import Bytes, Floats, floats

_SMOOTH: Final = 9
"""Pixels over which the glow is averaged: it has no detail, and the backing's noise has."""

_SEEN: Final = 2.0
"""Codes by which the smoothed frame must exceed the plate; codec and noise reach about a quarter of it."""

_REACH: Final = 0.18
"""How far from the figure a glow may lie, as a share of the height: farther, it is the backing's own."""

_SHRINK: Final = 8


def light_of_a_code(amounts: Floats) -> Floats:
    """Return by how much light (amounts 0..255) rises with one code, at each place of a plate.

    The slope of the sRGB curve above its toe, IEC 61966-2-1.
    """
    slope = 2.4 / 1.055 * np.power(np.maximum(amounts, 0.1) / 255, 1.4 / 2.4)
    return floats(slope)


def find_glow(light: Floats, plate: Floats, step: Floats, matte: Bytes, gain: float) -> Floats:
    """Return the light (h, w, 3) that a figure adds to its bare backing; 0 where there is none.

    Parameters
    ----------
    light : ndarray of float32 (h, w, 3)
        The frame, linear, 0..255.
    plate : ndarray of float32 (h, w, 3)
        The backing, linear, 0..255.
    step : ndarray of float32 (h, w, 3)
        What `light_of_a_code` says of the plate.
    matte : ndarray of uint8 (h, w)
        The figure's coverage; glow is looked for where it is 0.
    gain : float
        This frame's exposure over the plate's.
    """
    bare = (matte == 0).astype(np.float32)
    more = cv2.subtract(light, cv2.multiply(plate, np.full(4, gain)))
    # the mean over bare pixels only, so that the figure's own light does not leak out
    weight = np.maximum(cv2.blur(bare, (_SMOOTH, _SMOOTH)), 1e-3)
    smooth = cv2.blur(more * bare[..., None], (_SMOOTH, _SMOOTH)) / weight[..., None]
    strength = np.clip((smooth / step).max(axis=-1) / _SEEN - 1, 0, 1) * bare * _near(matte)
    return floats(np.maximum(smooth, 0) * strength[..., None])


def _near(matte: Bytes) -> Floats:
    """Return 1 beside the figure, falling softly to 0 at the glow's reach."""
    h, w = matte.shape
    small = cv2.resize(matte, (max(w // _SHRINK, 1), max(h // _SHRINK, 1)), interpolation=cv2.INTER_AREA)
    reach = 2 * max(round(_REACH * h / _SHRINK), 1) + 1
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (reach, reach))
    grown = cv2.dilate((small > 0).astype(np.float32), disc)
    return floats(cv2.resize(cv2.blur(grown, (reach // 2 + 1, reach // 2 + 1)), (w, h)))
