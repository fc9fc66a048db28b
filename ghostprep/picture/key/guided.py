"""An edge-keeping smoothing of the key, guided by the picture's luma."""

from __future__ import annotations

import cv2

from ghostprep.picture.key.keyed import Floats, floats


def guided_filter(guide: Floats, key: Floats, radius: int, epsilon: float) -> Floats:
    """Smooth `key` but keep the edges that `guide` shows: chroma is coded at half the luma's detail.

    Parameters
    ----------
    guide, key : ndarray of float32 (h, w)
        `guide` in codes.
    radius : int
        Half the window, pixels.
    epsilon : float
        Variance of the guide (codes squared) below which a window counts as flat.

    References
    ----------
    .. [1] He, Sun, Tang, "Guided Image Filtering", ECCV 2010, equations 5, 6 and 8.
    """
    window = (2 * radius + 1, 2 * radius + 1)

    def mean(x: Floats) -> Floats:
        return floats(cv2.boxFilter(x, cv2.CV_32F, window, borderType=cv2.BORDER_REFLECT))

    mean_guide, mean_key = mean(guide), mean(key)
    covariance = mean(floats(guide * key)) - mean_guide * mean_key
    variance = mean(floats(guide * guide)) - mean_guide * mean_guide
    gain = covariance / (variance + epsilon)
    offset = mean_key - gain * mean_guide
    return floats(mean(floats(gain)) * guide + mean(floats(offset)))
