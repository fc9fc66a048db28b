"""Between code values and linear light.

Screens here are taken to follow sRGB [1]_: small panels are made for pictures that were graded for it. The
light that a screen of BT.1886 [2]_ adds to its own black differs by up to 3.5 codes where its contrast is
1:500, and by 1.6 where it is 1:800.

References
----------
.. [1] IEC 61966-2-1:1999, sRGB; constants as printed in W3C, WCAG 2.2, "relative luminance".
.. [2] Recommendation ITU-R BT.1886 (03/2011), annex 1.
"""

from __future__ import annotations

import functools
from typing import Final

import cv2
import numpy as np
import numpy.typing as npt

LUMA_709: Final = (0.2126, 0.7152, 0.0722)
"""Weights of R, G, B in luminance (ITU-R BT.709-6, item 3.2)."""

STILL: Final = 1e-4
"""RMS step from frame to frame, linear light, that counts as none: less than one code of a dark grey."""

_LUMA_ROW: Final = np.array([LUMA_709], np.float32)


def to_linear(codes: npt.NDArray[np.floating]) -> npt.NDArray[np.float32]:
    """Turn sRGB signals into linear light.

    Parameters
    ----------
    codes : ndarray of float, any shape
        Signal, 0..1.

    Returns
    -------
    ndarray of float32, same shape
        Linear light, 0..1.

    Examples
    --------
    >>> round(float(to_linear(np.array([0.5], np.float32))[0]), 4)
    0.214
    """
    v = np.asarray(codes, np.float64)
    linear = np.where(v <= 0.04045, v / 12.92, ((np.maximum(v, 0) + 0.055) / 1.055) ** 2.4)
    return linear.astype(np.float32)


def from_linear(light: npt.NDArray[np.floating]) -> npt.NDArray[np.float32]:
    """Turn linear light into sRGB signals; the inverse of `to_linear`.

    Parameters
    ----------
    light : ndarray of float, any shape
        Linear light, 0..1; values outside are clipped.

    Returns
    -------
    ndarray of float32, same shape
        Signal, 0..1.
    """
    v = np.clip(np.asarray(light, np.float64), 0, 1)
    signal = np.where(v <= 0.0031308, v * 12.92, 1.055 * v ** (1 / 2.4) - 0.055)
    return signal.astype(np.float32)


@functools.cache
def linear_table() -> npt.NDArray[np.float32]:
    """Return linear light (256,) for every 8-bit code."""
    table = to_linear(np.arange(256, dtype=np.float32) / 255)
    table.setflags(write=False)
    return table


@functools.cache
def _code_table() -> npt.NDArray[np.uint8]:
    # 16-bit steps: below code 1 one step of light is 1/20 of a code, so rounding is right
    light = np.arange(65536, dtype=np.float64) / 65535
    table = np.rint(from_linear(light).astype(np.float64) * 255).astype(np.uint8)
    table.setflags(write=False)
    return table


def codes_to_light(codes: npt.NDArray[np.uint8]) -> npt.NDArray[np.float32]:
    """Turn 8-bit sRGB codes, any shape, into linear light 0..1."""
    # a quarter of the time of indexing the table
    light = cv2.LUT(codes.reshape(1, -1), linear_table()) if codes.size else np.empty(0)
    return np.asarray(light, np.float32).reshape(codes.shape)


def light_to_codes(light: npt.NDArray[np.floating]) -> npt.NDArray[np.uint8]:
    """Turn linear light, any shape, into the nearest 8-bit sRGB codes; clips to 0..1.

    Examples
    --------
    >>> every = np.arange(256, dtype=np.uint8)
    >>> bool((light_to_codes(codes_to_light(every)) == every).all())
    True
    """
    steps = np.clip(light, 0, 1) * np.float32(65535) + np.float32(0.5)
    codes: npt.NDArray[np.uint8] = _code_table()[steps.astype(np.uint16)]
    return codes


def luminance(linear_rgb: npt.NDArray[np.floating]) -> npt.NDArray[np.float32]:
    """Return the luminance (...,) of linear RGB (..., 3), white = 1."""
    if linear_rgb.ndim == 3 and linear_rgb.dtype == np.float32:
        # a picture: a third of the time of a product of matrices
        return np.asarray(cv2.transform(linear_rgb, _LUMA_ROW), np.float32)
    return (linear_rgb @ np.asarray(LUMA_709, np.float32)).astype(np.float32)
