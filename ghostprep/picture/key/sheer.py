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

from ghostprep.arrays import Figure, Floats, Mask
from ghostprep.picture.key.curve import Curve
from ghostprep.picture.key.falloff import darkened, only_adds
from ghostprep.picture.key.keyed import floats
from ghostprep.picture.key.sheer_cloth import Detailed, same_cloth

_HALF = 2
"""Detail is compared on a picture this much smaller: finer, there is more noise than detail."""
_WINDOW = 7
"""Pixels of it over which detail is compared."""
_FOLLOWS, _SURELY = 0.65, 0.85
"""Share of the frame's detail that the plate's explains, from which it may show through, and surely does."""
_MOST = 1.1
"""Slope beyond which it is no transmission: something else happens to look alike."""
_COVERED = (0.5, 0.9)
"""Part of a window that must be covered by the figure for a beginning, and for all."""
_DIM = 3.0
"""Amounts above the plate up to which there is no light."""
_CLEAR = 10
"""How many times the noise the plate's detail is where it must show through light that only adds."""
_SUM = np.ones((1, 3), np.float32)


class Sheer(NamedTuple):
    """What shows through, on the half picture; float32 (h, w) each."""

    through: Floats
    """Share of the plate's amounts that comes through, 0..1."""
    sure: Floats
    """How far that is believed, 0..1."""
    lit: Floats
    """Share of light that only adds: there all of the plate comes through."""


def halved(light: Floats) -> Floats:
    """Return amounts (h, w, 3) on the half picture."""
    size = (max(light.shape[1] // _HALF, 1), max(light.shape[0] // _HALF, 1))
    return floats(cv2.resize(light, size, interpolation=cv2.INTER_AREA))


def find_sheer(frame: Floats, plate: Floats, covered: npt.NDArray[np.bool_], noise: Floats) -> Sheer | None:
    """Find where a frame's detail follows the plate's though something is before it; None for nowhere.

    Parameters
    ----------
    frame, plate : ndarray of float32 (h, w, 3)
        Amounts, from `halved`.
    covered : ndarray of bool, any size
        Where the frame does not show the bare plate.
    noise : ndarray of float32 (h, w)
        Sigma of the frame around the plate, amounts.

    Notes
    -----
    The slope is that of a regression of the frame on the plate over a window, covered pixels only, all three
    channels together; it counts by its coefficient of determination. From where it is sure, it is
    carried as far as the same cloth goes on.
    """
    ours, theirs, mask = _masked(frame, plate, covered)
    told = _told(ours, theirs, mask)
    through, sure = same_cloth(ours, theirs, mask, told) if told.sure.any() else (told.slope, told.sure)
    adds = _only_adds(frame, plate, mask, told, noise=noise).astype(np.float32)
    if not (sure.any() or (adds * mask).any()):
        return None
    return Sheer(through, sure, floats(cv2.blur(adds, (3, 3))))


def _only_adds(frame: Floats, plate: Floats, mask: Floats, told: Detailed, *, noise: Floats) -> Mask:
    """Return where (h, w) the frame is the plate and light that falls off to nothing.

    A body darkens some of the plate, or hides its detail: more than half of it is gone.
    """
    added = floats(cv2.subtract(frame, plate))
    hides = (told.detail > (_CLEAR * noise) ** 2) & (2 * told.common < told.detail)
    return only_adds(added, (darkened(added, noise) | hides) & (mask > 0), _DIM)


def _masked(frame: Floats, plate: Floats, covered: npt.NDArray[np.bool_]) -> tuple[Floats, Floats, Floats]:
    """Return frame and plate, 0 where nothing is covered, and a mask (h, w) of where something is."""
    size = (frame.shape[1], frame.shape[0])
    mask = floats(cv2.resize(covered.astype(np.float32), size, interpolation=cv2.INTER_NEAREST))
    three = cv2.merge((mask, mask, mask))
    return floats(cv2.multiply(frame, three)), floats(cv2.multiply(plate, three)), mask


def _told(frame: Floats, plate: Floats, mask: Floats) -> Detailed:
    """Return what the detail around each place tells."""
    count = _mean(mask)
    per = floats(1 / np.maximum(count, 1e-3))
    ours, theirs = _mean(frame), _mean(plate)

    def together(a: Floats, b: Floats, mean_a: Floats, mean_b: Floats) -> Floats:
        # the covariance, summed over the channels
        apart = _mean(_dot(a, b)) * per
        return floats(apart - _dot(mean_a, mean_b) * per * per)

    detail = np.maximum(together(plate, plate, theirs, theirs), 1e-3)
    common = together(frame, plate, ours, theirs)
    own = np.maximum(together(frame, frame, ours, ours), 1e-3)
    slope = np.maximum(common, 0) / detail
    follows = slope * slope * detail / own
    sure = np.clip((follows - _FOLLOWS) / (_SURELY - _FOLLOWS), 0, 1) * mask * (slope < _MOST)
    sure *= np.clip((count - _COVERED[0]) / (_COVERED[1] - _COVERED[0]), 0, 1)
    return Detailed(floats(np.minimum(slope, 1)), floats(sure), *map(floats, (own, common, detail)))


def taken_out(
    frame: Floats, plate: Floats, sheer: Sheer, figure: Figure, matte: Floats, *, near: Floats, curve: Curve
) -> tuple[Figure, Floats]:
    """Return figure and matte with what shows through taken out.

    Parameters
    ----------
    frame, plate : ndarray of float32 (h, w, 3)
        Amounts, at the figure's size.
    sheer : Sheer
    figure : ndarray of uint16 (h, w, 3)
        As keyed without it.
    matte : ndarray of float32 (h, w)
        Likewise, 0..1.
    near : ndarray of float32 (h, w)
        1 where there may be light, 0 where there is none, soft between.
    curve : Curve
    """
    size = (figure.shape[1], figure.shape[0])
    through, sure, lit = (floats(cv2.resize(x, size, interpolation=cv2.INTER_LINEAR)) for x in sheer)
    # cloth makes nothing lighter or more solid
    off = cv2.multiply(plate, cv2.merge((through, through, through)))
    less = cv2.min(curve.figure(floats(cv2.subtract(frame, off))), figure)
    light = curve.figure(floats(cv2.subtract(frame, plate)))
    shown = cv2.multiply(light, cv2.merge((near, near, near)), dtype=cv2.CV_16U)
    figure = _mixed(_mixed(figure, less, sure), shown, lit)
    opened = matte + sure * (np.minimum(matte, 1 - through) - matte)
    return figure, floats(opened * (1 - lit))


def _mixed(one: Figure, other: cv2.typing.MatLike, share: Floats) -> Figure:
    """Return one figure, and a share (h, w) of the other in its place."""
    change = cv2.subtract(other, one, dtype=cv2.CV_32F)
    change = cv2.multiply(change, cv2.merge((share, share, share)), dst=change)
    return np.asarray(cv2.add(one, change, dtype=cv2.CV_16U), np.uint16)


def _mean(x: Floats) -> Floats:
    return floats(cv2.blur(x, (_WINDOW, _WINDOW)))


def _dot(a: Floats, b: Floats) -> Floats:
    return floats(cv2.transform(cv2.multiply(a, b), _SUM))
