"""The plate of an even backing, learned from the clip itself."""

from __future__ import annotations

from typing import NamedTuple

import cv2
import numpy as np

from ghostprep.channels import largest_channel
from ghostprep.picture.key.keyed import Bytes, Floats, Mask, floats
from ghostprep.picture.key.plate import fill_holes


class EvenPlate(NamedTuple):
    """What was learned of an even backing.

    Attributes
    ----------
    plate : ndarray of float32 (h, w, 3)
        R'G'B' codes everywhere; guessed from the surroundings where the backing was never seen.
    empty : ndarray of bool (n, h, w)
        Where each frame shows nothing but the backing.
    noise : float
        Spread of the frames around the plate there, codes (sigma of one channel).
    """

    plate: Floats
    empty: Mask
    noise: float


def learn_even_plate(frames: Bytes, first: Mask, *, blur: float, rim: int = 7) -> EvenPlate:
    """Make a plate of an even backing from frames in which parts of it are seen.

    Parameters
    ----------
    frames : ndarray of uint8 (n, h, w, 3)
    first : ndarray of bool (n, h, w)
        Where the backing is seen by a first, rough look.
    blur : float
        Sigma in pixels; an even backing is smooth, the noise is not.
    rim : int
        Width of the disc by which what was found is made smaller, pixels.
    """
    empty = _without_rim(first, rim)
    plate = _mean_plate(frames, empty, 4 * blur)
    noise = 3.0
    # look again with the plate of each place: a veil or olive cloth passes the first look, not these
    for closest in (24.0, 12.0, 8.0):
        apart = np.stack([largest_channel(floats(cv2.absdiff(f.astype(np.float32), plate))) for f in frames])
        if empty.any():
            noise = float(np.median(apart[empty]))
        empty = _without_rim(apart < max(closest, 3 * noise), rim)
        plate = _mean_plate(frames, empty, blur)
    # the median of the largest of three deviations lies at 1.27 sigma
    return EvenPlate(plate, empty, noise / 1.27)


def _without_rim(empty: Mask, rim: int) -> Mask:
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (rim, rim))
    # single noisy pixels must not eat holes: close first
    dot = np.ones((3, 3), np.uint8)
    out = []
    for mask in empty.astype(np.uint8):
        closed = cv2.morphologyEx(cv2.medianBlur(mask, 5), cv2.MORPH_CLOSE, dot)
        out.append(cv2.erode(closed, disc, borderType=cv2.BORDER_REPLICATE))
    return np.stack(out).astype(bool)


def _mean_plate(frames: Bytes, empty: Mask, blur: float) -> Floats:
    mass = np.zeros(frames.shape[1:], np.float32)
    for frame, mask in zip(frames, empty, strict=True):
        mass += frame * mask[..., None]
    seen = empty.sum(0).astype(np.float32)
    known = np.minimum(seen / 2, 1)
    plate = fill_holes(floats(mass / np.maximum(seen, 1)[..., None]), floats(known))
    return floats(cv2.GaussianBlur(plate, (0, 0), blur, borderType=cv2.BORDER_REPLICATE))
