"""The plate of an even backing, learned from the clip itself."""

from __future__ import annotations

from typing import NamedTuple

import cv2
import numpy as np

from ghostprep.arrays import Floats, Frame, Mask
from ghostprep.channels import largest_channel
from ghostprep.picture.key.keyed import floats
from ghostprep.picture.key.plate import fill_holes

_CLOSEST, _LOOKS = 8.0, 2
"""Codes from the plate within which a place is backing whatever the noise; looks with each place's plate."""
_BIWEIGHT, _ROUNDS = 4.685 * 1.483, 8
"""Medians of the deviation at which it weighs nothing (Tukey's biweight, 95 % efficient); rounds it takes."""


class EvenPlate(NamedTuple):
    """What was learned of an even backing."""

    plate: Floats
    """(h, w, 3): R'G'B' codes everywhere; guessed from the surroundings where the backing was never seen."""
    empty: Mask
    """(n, h, w): where each frame shows nothing but the backing."""
    noise: float
    """Spread of the frames around the plate there, codes (sigma of one channel)."""


def learn_even_plate(frames: Frame, first: Mask, *, blur: float, rim: int = 7) -> EvenPlate:
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
    empty = _without_rim(first & _on_surface(frames, first), rim)
    plate = _mean_plate(frames, empty, 4 * blur)
    noise = 3.0
    # compare with the plate at each place: a veil or olive cloth is like the mean colour, not like the plate
    for _ in range(_LOOKS):
        apart = _apart(frames, plate)
        if empty.any():
            noise = float(np.median(apart[empty]))
        empty = _without_rim(apart < max(_CLOSEST, 3 * noise), rim)
        plate = _mean_plate(frames, empty, blur)
    # the median of the largest of three deviations lies at 1.27 sigma
    return EvenPlate(plate, empty, noise / 1.27)


def _without_rim(empty: Mask, rim: int) -> Mask:
    # single noisy pixels must not eat holes: close first
    dot, disc = np.ones((3, 3), np.uint8), cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (rim, rim))
    masks = (cv2.medianBlur(mask, 5) for mask in empty.view(np.uint8))
    closed = (cv2.morphologyEx(mask, cv2.MORPH_CLOSE, dot) for mask in masks)
    return np.stack([cv2.erode(mask, disc, borderType=cv2.BORDER_REPLICATE) > 0 for mask in closed])


def _on_surface(frames: Frame, empty: Mask) -> Mask:
    """Return where frames (n, h, w) lie near the one smooth surface that most of `empty` makes.

    Light falls off evenly over a backing. A veil in the middle that no frame shows moved away has edges
    instead, and would else be learned as backing.

    References
    ----------
    .. [1] Beaton and Tukey, "The fitting of power series", Technometrics 16(2), 1974: the biweight, by
       repeated weighted least squares.
    """
    seen = empty.sum(0)
    at = seen > 0
    if not at.any():
        return empty
    h, w = seen.shape
    y, x = np.mgrid[-1 : 1 : h * 1j, -1 : 1 : w * 1j].astype(np.float32)
    terms = floats(np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], -1))
    mean, here = _mean_of(frames, empty)[at], terms[at]
    weight, near = np.ones(len(here), np.float32), _CLOSEST
    surface = np.zeros((terms.shape[-1], 3), np.float32)
    for _ in range(_ROUNDS):
        weighted = here.T * weight
        surface = floats(np.linalg.lstsq(weighted @ here, weighted @ mean, rcond=None)[0])
        apart = largest_channel(np.abs(mean - here @ surface))
        near = max(_BIWEIGHT * float(np.median(apart)), _CLOSEST)
        weight = floats(np.maximum(1 - (apart / near) ** 2, 0) ** 2)
    return np.asarray(_apart(frames, floats(terms @ surface)) < near, np.bool_)


def _apart(frames: Frame, plate: Floats) -> Floats:
    """Return how far each frame (n, h, w) lies from a plate, in its farthest channel, codes."""
    return np.stack([largest_channel(floats(cv2.absdiff(f.astype(np.float32), plate))) for f in frames])


def _mean_plate(frames: Frame, empty: Mask, blur: float) -> Floats:
    known = np.minimum(empty.sum(0).astype(np.float32) / 2, 1)
    plate = fill_holes(_mean_of(frames, empty), floats(known))
    return floats(cv2.GaussianBlur(plate, (0, 0), blur, borderType=cv2.BORDER_REPLICATE))


def _mean_of(frames: Frame, empty: Mask) -> Floats:
    mass = sum(frame * floats(mask[..., None]) for frame, mask in zip(frames, empty, strict=True))
    return floats(mass / floats(np.maximum(empty.sum(0), 1))[..., None])
