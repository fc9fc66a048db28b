"""Whether the camera moves: the backing's light and dark places wander through the picture."""

from __future__ import annotations

import cv2
import numpy as np

from ghostprep.arrays import Frame, Mask

_MOVED = 2.0
"""Codes by which wide patches of the backing differ from their mean over time, if the camera moves."""


def backing_wanders(frames: Frame, first: Mask) -> bool:
    """Tell whether the backing's shading moves against the frame.

    Parameters
    ----------
    frames : ndarray of uint8 (n, h, w, 3)
    first : ndarray of bool (n, h, w)
        Where the backing is seen.
    """
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (7, 7))
    weights = [cv2.erode(m.astype(np.uint8), disc).astype(np.float32) for m in first]
    luma = [cv2.cvtColor(f, cv2.COLOR_RGB2GRAY).astype(np.float32) for f in frames]
    # a change of exposure is no move: bring all frames to one mean
    means = [
        float((x * w).sum() / w.sum()) if w.sum() > 50 else 0.0 for x, w in zip(luma, weights, strict=True)
    ]
    usable = [i for i, mean in enumerate(means) if mean > 1]
    if len(usable) < 2:
        return False
    middle = float(np.median([means[i] for i in usable]))
    luma = [luma[i] * (middle / means[i]) for i in usable]
    weights = [weights[i] for i in usable]
    total = np.maximum(sum(weights), 1e-3)
    mean = sum(x * w for x, w in zip(luma, weights, strict=True)) / total
    apart = []
    for x, w in zip(luma, weights, strict=True):
        patch = cv2.blur((x - mean) * w, (9, 9)) / np.maximum(cv2.blur(w, (9, 9)), 0.05)
        # the median: a veil or cloth of the backing's hue passes for backing here
        apart.append(float(np.median(np.abs(patch[w > 0]))) if (w > 0).any() else 0.0)
    return float(np.median(apart)) > _MOVED
