"""The space in which figure and backing were mixed: light, as in a camera, or codes, as in a drawing."""

from __future__ import annotations

import functools
from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from ghostprep.picture.key.keyed import Bytes, Floats, as_bytes, floats
from ghostprep.transfer import light_to_codes, linear_table


@dataclass(frozen=True, slots=True)
class Curve:
    """Turns codes into the amounts that add up in a mix, and back; both run 0..255.

    Attributes
    ----------
    linear : bool
        True if the mix was made of light (a lens, a sensor), false if of code values (most programs).
    """

    linear: bool

    def amounts(self, codes: Bytes, out: Floats | None = None) -> Floats:
        """Return the amounts (float32) of 8-bit codes of any shape."""
        return floats(cv2.LUT(codes, _amounts_of_codes(self.linear), dst=out))

    def codes(self, amounts: Floats) -> Bytes:
        """Return the nearest 8-bit codes of amounts of any shape; clips to 0..255."""
        rows = np.ascontiguousarray(amounts).reshape(len(amounts), -1)
        # to whole numbers at once: OpenCV rounds and clips on the way
        if not self.linear:
            return as_bytes(cv2.addWeighted(rows, 1.0, rows, 0.0, 0.0, dtype=cv2.CV_8U)).reshape(
                amounts.shape
            )
        steps = np.asarray(cv2.addWeighted(rows, 257.0, rows, 0.0, 0.0, dtype=cv2.CV_16U), np.uint16)
        codes = np.empty(steps.shape, np.uint8)
        np.take(_codes_of_steps(), steps, out=codes, mode="wrap")
        return codes.reshape(amounts.shape)


@functools.cache
def _amounts_of_codes(linear: bool) -> Floats:
    return floats(linear_table() * 255 if linear else np.arange(256))


@functools.cache
def _codes_of_steps() -> npt.NDArray[np.uint8]:
    return light_to_codes(np.arange(65536, dtype=np.float32) / 65535)
