"""Places that solid figure shuts in, from which the backing is nowhere seen."""

from __future__ import annotations

import cv2
import numpy as np
import numpy.typing as npt

from ghostprep.arrays import Frame
from ghostprep.picture.key.keyed import as_bytes


def enclosed(seen: npt.NDArray[np.bool_], solid: Frame) -> Frame:
    """Find the islands between solid parts from which the backing is nowhere seen.

    They are holes in the key, not in the figure; an island at the picture's border may be open beyond it.

    Parameters
    ----------
    seen : ndarray of bool (h, w)
        Where the bare backing is seen.
    solid : ndarray of uint8 (h, w)
        1 where the figure is solid.

    Returns
    -------
    ndarray of uint8 (h, w)
        1 in those islands.

    Examples
    --------
    >>> ring = np.pad(np.pad(np.zeros((1, 2), np.uint8), 1, constant_values=1), 1)
    >>> int(enclosed(np.zeros(ring.shape, bool), ring).sum())
    2
    """
    count, labels = cv2.connectedComponents(1 - solid, connectivity=4)
    if count <= 2:
        return as_bytes(np.zeros_like(solid))
    open_ = np.bincount(labels[seen], minlength=count) > 0
    for side in (labels[0], labels[-1], labels[:, 0], labels[:, -1]):
        open_[side] = True
    open_[0] = True
    return as_bytes((~open_).astype(np.uint8)[labels])
