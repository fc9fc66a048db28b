"""An edge-keeping smoothing of the key, guided by the picture's luma."""

from __future__ import annotations

import cv2
import numpy as np

from ghostprep.picture.key.keyed import Bytes, Floats, floats


def guided_filter(
    guide: Bytes, key: Floats, radius: int, epsilon: float, *, shrink: int = 1, doubt: float = 0.0
) -> Floats:
    """Smooth `key` but keep the edges that `guide` shows: chroma is coded at half the luma's detail.

    Parameters
    ----------
    guide : ndarray of uint8 (h, w)
    key : ndarray of float32 (h, w)
    radius : int
        Half the window, pixels.
    epsilon : float
        Variance of the guide (codes squared) below which a window counts as flat.
    shrink : int
        Work out the windows on a picture smaller by this factor; the edges stay those of the whole guide.

    doubt : float
        Variance of the key that the guide may leave unexplained. Where it leaves more, figure and backing
        are of one luma and the guide knows of no edge: there the key itself is taken, as in a Wiener
        filter. 0 for the plain guided filter.

    References
    ----------
    .. [1] He, Sun, Tang, "Guided Image Filtering", ECCV 2010, equations 5, 6 and 8.
    .. [2] He, Sun, "Fast Guided Filter", arXiv:1505.00996, 2015.
    """
    h, w = guide.shape
    whole_guide = floats(guide)
    small_guide, small_key = whole_guide, key
    if shrink > 1:
        size = (max(w // shrink, 1), max(h // shrink, 1))
        small_guide = floats(cv2.resize(whole_guide, size, interpolation=cv2.INTER_AREA))
        small_key = floats(cv2.resize(key, size, interpolation=cv2.INTER_AREA))
    reach = max(radius // shrink, 1)
    window = (2 * reach + 1, 2 * reach + 1)

    def mean(x: cv2.typing.MatLike) -> cv2.typing.MatLike:
        return cv2.boxFilter(x, cv2.CV_32F, window, borderType=cv2.BORDER_REFLECT)

    mean_guide, mean_key = mean(small_guide), mean(small_key)
    covariance = cv2.subtract(mean(cv2.multiply(small_guide, small_key)), cv2.multiply(mean_guide, mean_key))
    variance = cv2.subtract(
        mean(cv2.multiply(small_guide, small_guide)), cv2.multiply(mean_guide, mean_guide)
    )
    gain = cv2.divide(covariance, np.add(variance, np.float32(epsilon)))
    offset = cv2.subtract(mean_key, cv2.multiply(gain, mean_guide))
    trust: Floats | None = None
    if doubt > 0:
        spread = cv2.subtract(mean(cv2.multiply(small_key, small_key)), cv2.multiply(mean_key, mean_key))
        left = np.maximum(cv2.subtract(spread, cv2.multiply(gain, covariance)), 0)
        trust = floats(left / (left + np.float32(doubt)))
    gain, offset = mean(gain), mean(offset)
    if shrink > 1:
        gain = cv2.resize(gain, (w, h), interpolation=cv2.INTER_LINEAR)
        offset = cv2.resize(offset, (w, h), interpolation=cv2.INTER_LINEAR)
    smooth = floats(cv2.add(cv2.multiply(gain, whole_guide), offset))
    if trust is None:
        return smooth
    if shrink > 1:
        trust = floats(cv2.resize(trust, (w, h), interpolation=cv2.INTER_LINEAR))
    own = cv2.blur(key, (3, 3))
    np.subtract(own, smooth, out=own)
    np.multiply(own, trust, out=own)
    return floats(np.add(smooth, own, out=smooth))
