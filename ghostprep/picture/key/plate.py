"""A picture of the whole source frame, brought to what the decoder delivers; and holes in it filled."""

from __future__ import annotations

import cv2
import numpy as np

from ghostprep.arrays import Floats
from ghostprep.box import Box
from ghostprep.picture.key.keyed import floats


def fill_holes(values: Floats, weight: Floats) -> Floats:
    """Spread known values into the unknown by push-pull: shrink until no hole is left, then grow back.

    Parameters
    ----------
    values : ndarray of float32 (h, w, c)
    weight : ndarray of float32 (h, w)
        0 where unknown, 1 where well known.

    Returns
    -------
    ndarray of float32 (h, w, c)

    References
    ----------
    .. [1] Gortler et al., "The Lumigraph", SIGGRAPH 1996, section 3.4.
    """
    h, w = weight.shape
    if min(h, w) <= 2 or float(weight.min()) >= 1:
        total = float(weight.sum())
        mean = (values * weight[..., None]).sum((0, 1)) / max(total, 1e-6)
        return floats(np.where(weight[..., None] > 0, values, mean))
    small = ((w + 1) // 2, (h + 1) // 2)
    less = cv2.resize(weight, small, interpolation=cv2.INTER_AREA)
    # OpenCV drops a last axis of 1
    mass = cv2.resize(values * weight[..., None], small, interpolation=cv2.INTER_AREA).reshape(
        *less.shape, -1
    )
    known = mass / np.maximum(less, 1e-6)[..., None]
    below = fill_holes(floats(known), floats(np.minimum(less * 4, 1)))
    grown = cv2.resize(below, (w, h), interpolation=cv2.INTER_LINEAR).reshape(h, w, -1)
    mix = weight[..., None]
    return floats(values * mix + grown * (1 - mix))


def cut_to(picture: Floats, crop: Box | None, source_size: tuple[int, int], size: tuple[int, int]) -> Floats:
    """Bring a picture of the whole source frame to the crop and size that the decoder delivers.

    Parameters
    ----------
    picture : ndarray of float32 (h, w) or (h, w, c)
        Any size; it shows the whole source frame.
    crop : Box or None
        In source pixels; None for the whole frame.
    source_size, size : tuple of int
        Width and height of the source frame, and of the wanted picture.
    """
    h, w = picture.shape[:2]
    box = crop or Box(0, 0, *source_size)
    sx, sy = w / source_size[0], h / source_size[1]
    inner = (max(round(box.width * sx), 1), max(round(box.height * sy), 1))
    step_x, step_y = box.width * sx / inner[0], box.height * sy / inner[1]
    if (*inner, box.x, box.y) != (w, h, 0, 0):
        # pixel centres: the middle of pixel 0 is 0.5
        x0, y0 = box.x * sx + 0.5 * step_x - 0.5, box.y * sy + 0.5 * step_y - 0.5
        matrix = np.array([[step_x, 0, x0], [0, step_y, y0]])
        flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
        picture = floats(cv2.warpAffine(picture, matrix, inner, flags=flags, borderMode=cv2.BORDER_REPLICATE))
    if inner != tuple(size):
        shrinks = size[0] * size[1] < inner[0] * inner[1]
        how = cv2.INTER_AREA if shrinks else cv2.INTER_LINEAR
        picture = floats(cv2.resize(picture, size, interpolation=how))
    return np.ascontiguousarray(picture, np.float32)
