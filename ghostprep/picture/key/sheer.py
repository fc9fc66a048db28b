"""Cloth before a cluttered room through which the room's own detail shows, and light that hides none of it.

A veil differs from the room as much as a coat does, so difference alone calls both solid. But what a veil
lets through keeps the room's pattern: where the frame's detail follows the plate's, the slope is the share
of the room's light that comes through. A lamp's glow lets all of it through: what is above the plate is light
on black.
"""

from __future__ import annotations

from typing import NamedTuple

import cv2
import numpy as np
import numpy.typing as npt

from ghostprep.arrays import Floats
from ghostprep.channels import dot
from ghostprep.picture.key.falloff import darkened, only_adds
from ghostprep.picture.key.keyed import floats
from ghostprep.picture.key.sheer_cloth import Detailed, same_cloth

_WINDOW = 7
"""Pixels of the half picture over which detail is compared: finer, there is more noise than detail."""
_FOLLOWS, _SURELY = 0.65, 0.85
"""Share of the frame's detail that the plate's explains, from which it may show through, and surely does."""
_CLEAR = 5
"""How many times the noise the plate's detail is where it must show through light that only adds."""
_DIM = 3.0
"""Amounts above the plate up to which there is no light."""


class Sheer(NamedTuple):
    """What shows through, on the half picture; float32 (h, w) each."""

    through: Floats
    """Share of the plate's amounts that comes through, 0..1."""
    sure: Floats
    """How far that is believed, 0..1."""
    lit: Floats
    """Share of light that only adds: there all of the plate comes through."""

    def shown(self, bare: Floats) -> tuple[Floats, Floats]:
        """Return the share (h, w) of the plate that shows where `bare` of it is bare, and that of light."""
        size = (bare.shape[1], bare.shape[0])
        through, sure, lit = (floats(cv2.resize(x, size, interpolation=cv2.INTER_LINEAR)) for x in self)
        # cloth makes nothing more solid
        opened = bare + sure * np.maximum(through - bare, 0)
        return floats(opened + lit * (1 - opened)), lit


def find_sheer(frame: Floats, plate: Floats, covered: npt.NDArray[np.bool_], noise: Floats) -> Sheer:
    """Find where a frame's detail follows the plate's though something is before it.

    Parameters
    ----------
    frame, plate : ndarray of float32 (h, w, 3)
        Amounts, at half the size of the frames.
    covered : ndarray of bool, any size
        Where the frame does not show the bare plate.
    noise : ndarray of float32 (h, w)
        Sigma of the frame around the plate, amounts.

    Notes
    -----
    The slope is that of a regression over a window, covered pixels and all channels together; it counts by
    its coefficient of determination, and is carried on from there as far as the same cloth goes.
    """
    size = (frame.shape[1], frame.shape[0])
    mask = floats(cv2.resize(covered.astype(np.float32), size, interpolation=cv2.INTER_NEAREST))
    ours, theirs = (floats(cv2.multiply(x, cv2.merge((mask,) * 3))) for x in (frame, plate))
    told = _told(ours, theirs, mask, noise)
    through, sure = same_cloth(ours, theirs, mask, told) if told.sure.any() else (told.slope, told.sure)
    added = floats(cv2.subtract(frame, plate))
    # a body darkens some of the plate, or hides more than half of its detail
    hides = (told.detail > (_CLEAR * noise) ** 2) & (2 * told.common < told.detail)
    adds = only_adds(added, (darkened(added, noise) | hides) & (mask > 0), _DIM).astype(np.float32)
    return Sheer(through, sure, floats(cv2.blur(adds, (3, 3))))


def _told(frame: Floats, plate: Floats, mask: Floats, noise: Floats) -> Detailed:
    """Return what the detail around each place tells; what is below the noise is none."""
    per = floats(1 / np.maximum(_mean(mask), 1e-3))
    ours, theirs = _mean(frame), _mean(plate)

    def together(a: Floats, b: Floats, mean_a: Floats, mean_b: Floats) -> Floats:
        # the covariance, summed over the channels
        apart = _mean(dot(a, b)) * per
        return floats(apart - dot(mean_a, mean_b) * per * per)

    detail = np.maximum(together(plate, plate, theirs, theirs), noise**2)
    common = together(frame, plate, ours, theirs)
    own = np.maximum(together(frame, frame, ours, ours), noise**2)
    slope = np.maximum(common, 0) / detail
    follows = slope * slope * detail / own
    sure = np.clip((follows - _FOLLOWS) / (_SURELY - _FOLLOWS), 0, 1) * mask
    return Detailed(floats(np.minimum(slope, 1)), floats(sure), *map(floats, (own, common, detail)))


def _mean(x: Floats) -> Floats:
    return floats(cv2.blur(x, (_WINDOW, _WINDOW)))
