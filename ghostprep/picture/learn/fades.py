"""Glimpses of a fade, from which no backing is learned: all of it is darker there."""

from __future__ import annotations

import numpy as np

from ghostprep.arrays import Frame
from ghostprep.channels import largest_channel

_DIM, _LEAST = 0.2, 16.0
"""Share of its usual codes, and codes, by which a pixel is darker in a fade than elsewhere."""
_EVERYWHERE = 0.9
"""Share of the bright pixels that must be: a figure's shadow or absence leaves most as they are."""
_MOST_BRIGHT = 0.5
"""Share of the picture that must be bright at all: on black a fade leaves nothing to tell it by."""


def without_fades(frames: Frame) -> Frame:
    """Return glimpses (n, h, w, 3) without those that are darker than usual nearly everywhere.

    Where a bright figure has left, its places are darker too, but not the backing around.
    """
    light = largest_channel(frames)
    usual = np.median(light, axis=0)
    bright = usual > 2 * _LEAST
    if bright.mean() < _MOST_BRIGHT:
        return frames
    darker = light[:, bright] < usual[bright] - np.maximum(_DIM * usual[bright], _LEAST)
    return np.ascontiguousarray(frames[darker.mean(1) < _EVERYWHERE])
