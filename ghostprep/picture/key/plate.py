"""The backing as it looks at each place: learned from the clip, or given."""

from __future__ import annotations

import cv2
import numpy as np
import numpy.typing as npt

from ghostprep.box import Box
from ghostprep.picture.key.keyed import Floats, floats


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
        return np.where(weight[..., None] > 1e-3, values, mean).astype(np.float32)
    small = ((w + 1) // 2, (h + 1) // 2)
    less = cv2.resize(weight, small, interpolation=cv2.INTER_AREA)
    mass = cv2.resize(values * weight[..., None], small, interpolation=cv2.INTER_AREA)
    known = mass / np.maximum(less, 1e-6)[..., None]
    below = fill_holes(known.astype(np.float32), np.minimum(less * 4, 1).astype(np.float32))
    grown = cv2.resize(below, (w, h), interpolation=cv2.INTER_LINEAR)
    mix = weight[..., None]
    return (values * mix + grown * (1 - mix)).astype(np.float32)


def learn_plate(
    frames: npt.NDArray[np.uint8], empty: npt.NDArray[np.bool_], *, blur: float
) -> tuple[Floats, Floats]:
    """Make a plate of an even backing from frames in which parts of it are seen.

    Parameters
    ----------
    frames : ndarray of uint8 (n, h, w, 3)
    empty : ndarray of bool (n, h, w)
        Where the backing alone is seen.
    blur : float
        Sigma in pixels; an even backing is smooth, the noise is not.

    Returns
    -------
    plate : ndarray of float32 (h, w, 3)
        R'G'B' codes everywhere; guessed from the surroundings where the backing was never seen.
    seen : ndarray of float32 (h, w)
        Share of the frames that showed it.
    """
    mass = np.einsum("nhwc,nhw->hwc", frames.astype(np.float32), empty.astype(np.float32))
    seen = empty.sum(0).astype(np.float32)
    mean = mass / np.maximum(seen, 1)[..., None]
    known = np.minimum(seen, 1).astype(np.float32)
    plate = fill_holes(mean.astype(np.float32), known)
    if blur > 0:
        plate = floats(cv2.GaussianBlur(plate, (0, 0), blur, borderType=cv2.BORDER_REPLICATE))
    return plate, (seen / len(frames)).astype(np.float32)


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
