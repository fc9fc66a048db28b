"""An edge-keeping smoothing of the key, guided by the picture's luma: chroma is coded at half its detail."""

from __future__ import annotations

import cv2
import numpy as np

from ghostprep.arrays import Floats, Frame
from ghostprep.picture.key.keyed import floats


def windows(
    guide: Floats, key: Floats, reach: int, epsilon: float, doubt: float = 0.0
) -> tuple[Floats, Floats]:
    """Return gain and offset (h, w) with which `gain * guide + offset` is the smoothed key.

    Parameters
    ----------
    guide, key : ndarray of float32 (h, w)
    reach : int
        Half the window, pixels.
    epsilon : float
        Variance of the guide below which a window counts as flat.
    doubt : float
        Variance of the key that the guide may leave unexplained. Where it leaves more, figure and backing
        are of one luma and the guide knows of no edge: there the key itself is taken, as in a Wiener
        filter. 0 for the plain guided filter.

    References
    ----------
    .. [1] He, Sun, Tang, "Guided Image Filtering", ECCV 2010, equations 5, 6 and 8.
    """
    window = (2 * reach + 1, 2 * reach + 1)

    def mean(x: cv2.typing.MatLike) -> cv2.typing.MatLike:
        return cv2.boxFilter(x, cv2.CV_32F, window, borderType=cv2.BORDER_REFLECT)

    mean_guide, mean_key = mean(guide), mean(key)
    covariance = cv2.subtract(mean(cv2.multiply(guide, key)), cv2.multiply(mean_guide, mean_key))
    variance = cv2.subtract(mean(cv2.multiply(guide, guide)), cv2.multiply(mean_guide, mean_guide))
    gain = cv2.divide(covariance, np.add(variance, np.float32(epsilon)))
    offset = cv2.subtract(mean_key, cv2.multiply(gain, mean_guide))
    if doubt <= 0:
        return floats(mean(gain)), floats(mean(offset))
    spread = cv2.subtract(mean(cv2.multiply(key, key)), cv2.multiply(mean_key, mean_key))
    left = np.maximum(cv2.subtract(spread, cv2.multiply(gain, covariance)), 0)
    trust = cv2.divide(left, np.add(left, np.float32(doubt)))
    rest = np.subtract(1, trust)
    offset = cv2.add(cv2.multiply(mean(offset), rest), cv2.multiply(key, trust))
    return floats(cv2.multiply(mean(gain), rest)), floats(offset)


def through(guide: Frame, gain: Floats, offset: Floats, out: Floats | None = None) -> Floats:
    """Return the key that a guide (h, w) makes of gain and offset, which may be smaller pictures.

    The edges stay those of the whole guide: He, Sun, "Fast Guided Filter", arXiv:1505.00996, 2015.
    """
    h, w = guide.shape
    if gain.shape != guide.shape:
        gain = floats(cv2.resize(gain, (w, h), interpolation=cv2.INTER_LINEAR))
        offset = floats(cv2.resize(offset, (w, h), interpolation=cv2.INTER_LINEAR))
    smooth = cv2.multiply(guide, gain, dst=out, dtype=cv2.CV_32F)
    return floats(cv2.add(smooth, offset, dst=smooth))
