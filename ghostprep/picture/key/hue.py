"""Chroma along the backing's own hue, whatever hue that is."""

from __future__ import annotations

import functools
from dataclasses import dataclass
from typing import ClassVar

import numpy as np
import numpy.typing as npt

from ghostprep.arrays import Floats, Mask
from ghostprep.picture.key.keyed import floats
from ghostprep.transfer import LUMA_709

_LUMA = np.array(LUMA_709)
_CB = (np.array([0.0, 0.0, 1.0]) - _LUMA) / (2 * (1 - LUMA_709[2]))
_CR = (np.array([1.0, 0.0, 0.0]) - _LUMA) / (2 * (1 - LUMA_709[0]))
_SKIN = (np.cos(np.deg2rad(120)), np.sin(np.deg2rad(120)))
"""Direction of skin's hue in the CbCr plane (common practice, the "flesh tone line" of vectorscopes)."""
LUMA_CB_CR = np.stack([_LUMA, _CB, _CR]).astype(np.float32)
"""Rows that turn R'G'B' into Y', Cb, Cr (ITU-R BT.709-6, items 3.2 and 3.3), chroma around 0."""


def luma_chroma(codes: npt.NDArray[np.generic]) -> Floats:
    """Return Y', Cb, Cr (..., 3) of R'G'B' codes (..., 3); chroma is around 0."""
    return np.asarray(codes, np.float32) @ LUMA_CB_CR.T


def like(codes: npt.NDArray[np.generic], colour: Floats) -> Mask:
    """Return where codes (..., 3) have nearly the hue and most of the chroma of `colour`."""
    ycc = luma_chroma(codes)
    luma, cb, cr = luma_chroma(colour)
    length = float(np.hypot(cb, cr))
    along = (ycc[..., 1] * cb + ycc[..., 2] * cr) / length
    across = np.abs(ycc[..., 2] * cb - ycc[..., 1] * cr) / length
    # a darker part of the cloth has less chroma in proportion
    lit = np.clip(ycc[..., 0] / max(float(luma), 1), 0.4, 1.6)
    return np.asarray((along > 0.75 * length * lit) & (across < 0.2 * along + 3), np.bool_)


@dataclass(frozen=True)
class HueAxis:
    """The CbCr plane, turned so that the backing's hue lies on the first axis."""

    cb: float
    cr: float
    """Unit vector of the backing's chroma."""
    strict: float
    """How fast chroma beside the axis counts against the key where it judges what is solid: 1 / tan of half
    the angle of accepted hues."""
    slope: ClassVar[float] = 0.577
    """The same for the key itself, which accepts 60 degrees to each side."""

    @classmethod
    def of(cls, colour: npt.NDArray[np.generic]) -> HueAxis:
        """Return the axis of one R'G'B' colour (3,); it must not be grey."""
        _, cb, cr = luma_chroma(colour)
        length = float(np.hypot(cb, cr))
        if length < 1:
            raise ValueError("a grey has no hue")
        cb, cr = float(cb) / length, float(cr) / length
        # skin, hair and wood lie around one hue: the nearer the backing is to it, the narrower the key
        away = float(np.rad2deg(np.arccos(np.clip(cb * _SKIN[0] + cr * _SKIN[1], -1, 1))))
        half_angle = np.deg2rad(np.clip(0.6 * away, 12, 40))
        return cls(cb, cr, float(1 / np.tan(half_angle)))

    @functools.cached_property
    def rows(self) -> Floats:
        """The rows (3, 3) that turn R'G'B' into luma, chroma along and across the hue."""
        turn = np.array([[1, 0, 0], [0, self.cb, self.cr], [0, -self.cr, self.cb]], np.float32)
        return (turn @ LUMA_CB_CR).astype(np.float32)

    def narrow(self, codes: npt.NDArray[np.generic]) -> Floats:
        """Return the key of codes (..., 3) that only hues near the backing's pass; others are below 0."""
        turned = np.asarray(codes, np.float32) @ self.rows.T
        return floats(turned[..., 1] - self.strict * np.abs(turned[..., 2]))
