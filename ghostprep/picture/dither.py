"""Panels that show 5, 6 and 5 bits of red, green and blue: steps turned into a fine pattern.

Such a panel drops the low bits, so smooth light becomes bands of 8 codes. An ordered pattern [1]_
added inside the figure makes neighbouring pixels fall on the steps above and below, in the
right proportion. The pattern stands still, since one that moves would crawl, and is the same in
all three colours, since codecs keep fine detail in luma only.

References
----------
.. [1] B. E. Bayer, An optimum method for two-level rendition of continuous-tone pictures, IEEE
   International Conference on Communications, 1973.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from ghostprep.arrays import Frame
from ghostprep.channels import largest_channel

STEPS: Final = (8, 4, 8)
"""Codes from one step of the panel to the next, for red, green and blue."""

_ORDER: Final = np.array([[0, 8, 2, 10], [12, 4, 14, 6], [3, 11, 1, 9], [15, 7, 13, 5]], np.float32)


def dithered(frame: Frame) -> Frame:
    """Return a frame whose smooth light survives a 5-6-5 panel.

    Parameters
    ----------
    frame : ndarray of uint8 (h, w, 3)
        RGB, 0 outside the figure.

    Returns
    -------
    ndarray of uint8 (h, w, 3)
        With a pattern of less than one step inside the figure. Pixels whose largest code is
        below one step (8) become 0: single lit dots around the figure would show. Black
        stays 0.
    """
    height, width = frame.shape[:2]
    largest = largest_channel(frame)
    inside = largest >= max(STEPS)
    order = np.tile(_ORDER, (-(-height // 4), -(-width // 4)))[:height, :width] / 16
    pattern = order[..., None] * np.array(STEPS, np.float32)
    # a channel that is dark itself stays so: a dot of one colour would tint the shadows
    lifted = np.where(frame > 0, frame + pattern, 0)
    return np.where(inside[..., None], np.minimum(lifted, 255), 0).astype(np.uint8)
