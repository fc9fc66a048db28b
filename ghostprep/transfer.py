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

from ghostprep.arrays import Doubles, Figure, Frame, Light

CODE: Final = 257
"""Steps of a 16-bit figure to one 8-bit code: 65535 / 255."""

LUMA_709: Final = (0.2126, 0.7152, 0.0722)
"""Weights of R, G, B in luminance (ITU-R BT.709-6, item 3.2)."""

STILL: Final = 1 / 255 / 12.92
"""RMS step from frame to frame, linear light, that counts as none: that of code 1 in place of black."""

_LUMA_ROW: Final = np.array([LUMA_709], np.float32)


def to_linear(codes: npt.NDArray[np.floating]) -> Light:
    """Turn sRGB signals, 0..1, any shape, into linear light, 0..1.

    Examples
    --------
    >>> round(float(to_linear(np.array([0.5], np.float32))[0]), 4)
    0.214
    """
    v = np.asarray(codes, np.float64)
    linear = np.where(v <= 0.04045, v / 12.92, ((np.maximum(v, 0) + 0.055) / 1.055) ** 2.4)
    return linear.astype(np.float32)


def from_linear(light: npt.NDArray[np.floating]) -> Light:
    """Turn linear light, any shape, clipped to 0..1, into sRGB signals; the inverse of `to_linear`."""
    v = np.clip(np.asarray(light, np.float64), 0, 1)
    signal = np.where(v <= 0.0031308, v * 12.92, 1.055 * v ** (1 / 2.4) - 0.055)
    return signal.astype(np.float32)


@functools.cache
def linear_table() -> Light:
    """Return linear light (256,) for every 8-bit code."""
    table = to_linear(np.arange(256, dtype=np.float32) / 255)
    table.setflags(write=False)
    return table


@functools.cache
def _figure_table() -> Light:
    """Return linear light (65536,) for every code of a figure."""
    return to_linear(np.arange(65536, dtype=np.float64) / 65535)


def light_of_roots() -> Doubles:
    """Return the light (65536,), 0..1, of each step of `roots_of_light`."""
    return np.square(np.arange(65536) / 65535)


@functools.cache
def _codes_of_roots(most: int) -> npt.NDArray[np.integer]:
    """Return the code (65536,), 0..`most`, for each step of the root of light, which is nearly even in it."""
    signal = from_linear(light_of_roots()).astype(np.float64)
    return np.rint(signal * most).astype(np.min_scalar_type(most))


def codes_to_light(codes: Frame | Figure) -> Light:
    """Turn sRGB codes of 8 or 16 bits, any shape, into linear light 0..1."""
    table = linear_table() if codes.dtype == np.uint8 else _figure_table()
    # OpenCV looks up in a quarter of numpy's time, of 16 bits in a seventh
    light = cv2.LUT(codes.reshape(1, -1), table) if codes.size else np.empty(0)
    return np.asarray(light, np.float32).reshape(codes.shape)


def figure_of_light(light: npt.NDArray[np.floating], white: float = 1.0) -> Figure:
    """Turn linear light, any shape, 0..`white`, into a figure; clips to that."""
    return np.asarray(_looked_up(light, _codes_of_roots(65535), white), np.uint16)


def figure_of_codes(codes: Frame | Light) -> Figure:
    """Turn 8-bit codes, whole or with their fractions, any shape, into a figure; clips to 0..255."""
    if codes.dtype == np.uint8:
        return np.multiply(codes, CODE, dtype=np.uint16)
    rows = np.ascontiguousarray(codes, np.float32).reshape(1, -1)
    if not rows.size:
        return np.empty(codes.shape, np.uint16)
    figure = cv2.addWeighted(rows, float(CODE), rows, 0.0, 0.0, dtype=cv2.CV_16U)
    return np.asarray(figure, np.uint16).reshape(codes.shape)


def rounded(figure: Frame | Figure) -> Frame:
    """Return the nearest 8-bit codes of a figure, any shape; what has 8 bits is returned as it is.

    >>> rounded(np.array([[0, 128, 129, 257, 65535]], np.uint16)).tolist()
    [[0, 0, 1, 1, 255]]
    """
    if figure.dtype == np.uint8:
        return np.asarray(figure, np.uint8)
    return np.asarray(cv2.convertScaleAbs(figure, alpha=1 / CODE), np.uint8).reshape(figure.shape)


def light_to_codes(light: npt.NDArray[np.floating]) -> Frame:
    """Turn linear light, any shape, into the nearest 8-bit sRGB codes; clips to 0..1.

    Examples
    --------
    >>> every = np.arange(256, dtype=np.uint8)
    >>> bool((light_to_codes(codes_to_light(every)) == every).all())
    True
    """
    return np.asarray(_looked_up(light, _codes_of_roots(255)), np.uint8)


def _looked_up(
    light: npt.NDArray[np.floating], table: npt.NDArray[np.integer], white: float = 1.0
) -> npt.NDArray[np.integer]:
    """Return what a table (65536,) has for each step of the root of linear light 0..`white`."""
    if not light.size:
        return np.empty(light.shape, table.dtype)
    return np.asarray(cv2.LUT(roots_of_light(light, white), table), table.dtype).reshape(light.shape)


def roots_of_light(light: npt.NDArray[np.floating], white: float = 1.0) -> Figure:
    """Return the root of linear light, any shape but empty, in 65535 steps up to `white`, as one row."""
    rows = np.maximum(np.ascontiguousarray(light).reshape(1, -1), 0)
    cv2.sqrt(rows, dst=rows)
    # to whole numbers at once: OpenCV rounds and clips on the way
    return np.asarray(cv2.addWeighted(rows, 65535 / white**0.5, rows, 0.0, 0.0, dtype=cv2.CV_16U), np.uint16)


def luminance(linear_rgb: npt.NDArray[np.floating]) -> Light:
    """Return the luminance (...,) of linear RGB (..., 3), white = 1."""
    if linear_rgb.ndim == 3 and linear_rgb.dtype == np.float32:
        # a picture: a third of the time of a product of matrices
        return np.asarray(cv2.transform(linear_rgb, _LUMA_ROW), np.float32)
    return (linear_rgb @ np.asarray(LUMA_709, np.float32)).astype(np.float32, copy=False)
