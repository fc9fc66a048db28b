"""The space in which figure and backing were mixed: light, as in a camera, or codes, as in a drawing."""

from __future__ import annotations

import functools
from dataclasses import dataclass

import cv2
import numpy as np

from ghostprep.arrays import Figure, Floats, Frame
from ghostprep.picture.key.backing import Mix
from ghostprep.picture.key.keyed import floats
from ghostprep.transfer import figure_of_codes, figure_of_light, light_of_roots, linear_table, roots_of_light

WHITE = 255.0
"""The amounts of white."""
_BETWEEN = 1.25
"""Power of the codes that adds up where nobody told the mix. A lens mixes light, a power of about 2.2; what
comes after it, sharpening, scaling and the codec, mixes codes, and so do most programs."""


@dataclass(frozen=True, slots=True)
class Curve:
    """Turns codes into the amounts that add up in a mix, and back; both run 0..255."""

    mix: Mix | None
    """Light (a lens, a sensor), codes (most programs), or None for a curve between them that suits both."""

    def amounts(self, codes: Frame, out: Floats | None = None) -> Floats:
        """Return the amounts (float32) of 8-bit codes of any shape."""
        if self.mix == "light":
            table = _light_of_codes()
        else:
            table = _powers_of_codes(1 if self.mix == "codes" else _BETWEEN)
        return floats(cv2.LUT(codes, table, dst=out))

    def a_code(self, amounts: Floats) -> Floats:
        """Return by how much amounts, of any shape, rise with one code.

        For light it is the slope of the sRGB curve above its toe, IEC 61966-2-1.
        """
        if self.mix == "codes":
            return np.ones_like(amounts)
        times, power = (2.4 / 1.055, 2.4) if self.mix == "light" else (_BETWEEN, _BETWEEN)
        slope = cv2.pow(np.maximum(amounts, 0.1).reshape(1, -1) * (1 / 255), 1 - 1 / power)
        return floats(times * slope).reshape(amounts.shape)

    def a_code_in(self, light: Floats) -> Floats:
        """Return by how much the largest channel (...) of light (..., 3) rises with one code."""
        # not by `largest_channel`: it would copy the unmixer's pixels, which come channels first
        return self.a_code(np.maximum(np.maximum(light[..., 0], light[..., 1]), light[..., 2]))

    def figure(self, amounts: Floats) -> Figure:
        """Return amounts of any shape as a figure; clips to 0..255."""
        if self.mix == "codes":
            return figure_of_codes(amounts)
        if self.mix == "light" or not amounts.size:
            return figure_of_light(amounts, white=WHITE)
        figure = cv2.LUT(roots_of_light(amounts, WHITE), _figure_of_powers(_BETWEEN))
        return np.asarray(figure, np.uint16).reshape(amounts.shape)


@functools.cache
def _light_of_codes() -> Floats:
    return floats(linear_table() * 255)


@functools.cache
def _powers_of_codes(power: float) -> Floats:
    return floats(255 * (np.arange(256) / 255) ** power)


@functools.cache
def _figure_of_powers(power: float) -> Figure:
    """Return the figure (65536,) of each step of the root of such powers of codes."""
    return np.rint(65535 * light_of_roots() ** (1 / power)).astype(np.uint16)
