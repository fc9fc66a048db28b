"""What the channels of each pixel come to, fast: numpy is slow along so short an axis."""

from __future__ import annotations

from typing import TypeVar

import cv2
import numpy as np

from ghostprep.arrays import Figure, Floats, Frame

_SUM = np.ones((1, 3), np.float32)
_Pixels = TypeVar("_Pixels", Frame, Figure, Floats)


def largest_channel(frame: _Pixels) -> _Pixels:
    """Return the largest channel (..., w) of RGB (..., w, 3), of one type.

    A tenth of the time of ``frame.max(axis=-1)``, since whole planes are compared at once.

    >>> largest_channel(np.array([[[1, 5, 2], [9, 0, 3]]], np.uint8)).tolist()
    [[5, 9]]
    """
    red, green, blue = cv2.split(frame.reshape(-1, *frame.shape[-2:]))
    largest = cv2.max(cv2.max(red, green, dst=red), blue, dst=red)
    return np.asarray(largest, frame.dtype).reshape(frame.shape[:-1])


def dot(a: Floats, b: Floats) -> Floats:
    """Return the products (h, w) of vectors (h, w, 3).

    >>> dot(np.float32([[[1, 2, 3]]]), np.float32([[[4, 5, 6]]])).tolist()
    [[32.0]]
    """
    return np.asarray(cv2.transform(cv2.multiply(a, b), _SUM), np.float32)


def squared(x: Floats) -> Floats:
    """Return the squared lengths (...) of vectors (..., 3)."""
    return np.asarray(x[..., 0] ** 2 + x[..., 1] ** 2 + x[..., 2] ** 2, np.float32)


def channel_spread(frame: Frame) -> Frame:
    """Return the largest channel less the smallest (..., w) of RGB (..., w, 3).

    >>> channel_spread(np.array([[[1, 5, 2], [9, 0, 3]]], np.uint8)).tolist()
    [[4, 9]]
    """
    red, green, blue = cv2.split(frame.reshape(-1, *frame.shape[-2:]))
    largest, smallest = cv2.max(cv2.max(red, green), blue), cv2.min(cv2.min(red, green), blue)
    return np.asarray(cv2.subtract(largest, smallest), np.uint8).reshape(frame.shape[:-1])
