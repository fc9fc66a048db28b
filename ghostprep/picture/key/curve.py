"""The space in which figure and backing were mixed: light, as in a camera, or codes, as in a drawing."""

from __future__ import annotations

import functools
from dataclasses import dataclass

import cv2
import numpy as np

from ghostprep.arrays import Figure, Floats, Frame
from ghostprep.picture.key.keyed import floats
from ghostprep.transfer import figure_of_codes, figure_of_light, linear_table


@dataclass(frozen=True, slots=True)
class Curve:
    """Turns codes into the amounts that add up in a mix, and back; both run 0..255."""

    linear: bool
    """True if the mix was made of light (a lens, a sensor), false if of code values (most programs)."""

    def amounts(self, codes: Frame, out: Floats | None = None) -> Floats:
        """Return the amounts (float32) of 8-bit codes of any shape."""
        return floats(cv2.LUT(codes, _amounts_of_codes(self.linear), dst=out))

    def a_code(self, amounts: Floats) -> Floats:
        """Return by how much amounts, of any shape, rise with one code.

        For light it is the slope of the sRGB curve above its toe, IEC 61966-2-1.
        """
        if not self.linear:
            return np.ones_like(amounts)
        return floats(2.4 / 1.055 * np.power(np.maximum(amounts, 0.1) / 255, 1.4 / 2.4))

    def a_code_in(self, light: Floats) -> Floats:
        """Return by how much the largest channel (...) of light (..., 3) rises with one code."""
        # channel against channel: numpy takes twenty times as long for the largest along a short axis
        largest = np.maximum(np.maximum(light[..., 0], light[..., 1]), light[..., 2])
        return self.a_code(floats(np.maximum(largest, 0)))

    def figure(self, amounts: Floats) -> Figure:
        """Return amounts of any shape as a figure; clips to 0..255."""
        return figure_of_light(amounts, white=255.0) if self.linear else figure_of_codes(amounts)


@functools.cache
def _amounts_of_codes(linear: bool) -> Floats:
    return floats(linear_table() * 255 if linear else np.arange(256))
