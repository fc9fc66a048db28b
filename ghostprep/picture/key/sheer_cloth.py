"""How far sheer cloth goes on from where it was seen to be sheer.

Where the room behind is plain, no detail tells a veil from a coat. But a veil is one cloth: it has one colour
and lets one share of the room through. So each place is weighed: is it that cloth before this room, or
something else?
"""

from __future__ import annotations

from typing import NamedTuple

import cv2
import numpy as np

from ghostprep.arrays import Floats
from ghostprep.channels import dot
from ghostprep.picture.key.keyed import floats

_WIDE = 71
"""Pixels of the half picture over which cloth is alike."""
_SEEDS = 0.02
"""Share of them that must be sure before the cloth is believed to go on."""
_LINE, _LEAST_COVER = 40.0, 0.05
"""Amounts from the plate to whole cloth from which their line tells how thick it is, and the least cover by
which the colour of whole cloth is told."""
_LOOKS = 12
"""Independent looks in one window of detail (7 x 7): weave and coded noise are coarser than a pixel."""
_NOISE, _WOVEN, _ANY = 4.0, 100.0, 255**2 / 12
"""Variance of one channel, amounts squared: of noise; the most that one cloth has; of all amounts alike."""


class Detailed(NamedTuple):
    """What the detail around each place tells, float32 (h, w) each; sums are over the channels."""

    slope: Floats
    sure: Floats
    """Share of the plate that comes through, and how far that is believed; 0..1."""
    own: Floats
    common: Floats
    detail: Floats
    """Variance of the frame, covariance of frame and plate, variance of the plate."""


def same_cloth(frame: Floats, plate: Floats, mask: Floats, told: Detailed) -> tuple[Floats, Floats]:
    """Carry what is sure to where the same cloth goes on.

    Parameters
    ----------
    frame, plate : ndarray of float32 (h, w, 3)
        Amounts, 0 outside the mask.
    mask : ndarray of float32 (h, w)
        1 where the bare plate is not seen.
    told : Detailed

    Returns
    -------
    through, sure : ndarray of float32 (h, w)
        The share of the cloth around each place, or less where it is thicker, and how far it is believed.

    Notes
    -----
    With s the share and o the colour of the sheer cloth around, a place's odds are those of two Gaussians for
    C - s B (around o by the cloth's own spread, or anywhere) times those of its detail: the variance left by
    C - s B against that of C. Plain rooms leave the second open; then the colour decides.
    """
    slope, sure, own, common, detail = told
    around = _mean(sure)
    per = floats(1 / np.maximum(around, _SEEDS / 10))
    through = floats(np.minimum(_mean(floats(sure * slope)) * per, 1))
    rest = floats(cv2.subtract(frame, _times(through, plate)))
    own_light = _times(per, _mean(_times(sure, rest)))
    off = floats(cv2.subtract(rest, own_light))
    apart = cv2.blur(dot(off, off) * mask, (3, 3)) / np.maximum(cv2.blur(mask, (3, 3)), 1e-3)
    woven = np.clip(_mean(floats(apart * sure)) * per / 3, _NOISE, _WOVEN)
    by_colour = 1.5 * np.log(_ANY / woven) - apart / (2 * woven)
    left = np.maximum(own - through * (2 * common - through * detail), 0)
    by_detail = _LOOKS / 2 * np.log((own + 3 * _NOISE) / (left + 3 * _NOISE))
    odds = np.clip(by_colour + by_detail, -30, 30)
    enough = np.clip(around / _SEEDS, 0, 1)
    whole = floats(own_light / np.maximum(1 - through, _LEAST_COVER)[..., None])
    thick = _no_thinner(through, whole, frame, plate)
    return thick, floats(np.maximum(sure, mask * enough / (1 + np.exp(-odds))))


def _no_thinner(through: Floats, whole: Floats, frame: Floats, plate: Floats) -> Floats:
    """Return the share (h, w) of the plate, less where cloth is thicker than around, as hair is in places.

    There its colour lies nearer to that of whole cloth (h, w, 3). Where the two are alike, nothing tells.
    """
    line = floats(whole - plate)
    length = dot(line, line)
    bare = 1 - np.clip(dot(floats(frame - plate), line) / (length + 1), 0, 1)
    return floats(through + np.minimum(bare - through, 0) * (length / (length + _LINE**2)))


def _times(share: Floats, picture: Floats) -> Floats:
    return floats(cv2.multiply(cv2.merge((share, share, share)), picture))


def _mean(x: Floats) -> Floats:
    return floats(cv2.blur(x, (_WIDE, _WIDE)))
