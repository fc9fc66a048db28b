"""A part of a loop that moves about as much as the whole."""

from __future__ import annotations

from fractions import Fraction
from typing import Final

import cv2
import numpy as np

from ghostprep.player.attempt import Pictures

_LONG_S: Final = 2.5
"""Long enough for an encoder to show what the figure costs it, seconds."""
_SHORT_S: Final = 1.0
"""Shorter, and the first picture, which stands on its own, is most of it."""
_TIMES: Final = 4
"""How many times as long a loop must be for a part to be worth it."""


def lively_part(frames: Pictures, rate: Fraction) -> tuple[int, int] | None:
    """Return the first frame, and the one after the last, of a part that is about as lively as all of it.

    Parameters
    ----------
    frames : Pictures
    rate : Fraction
        Frames a second.

    Returns
    -------
    (int, int) or None
        None where the loop is so short that a part would hardly be less than all of it.
    """
    length = min(round(_LONG_S * rate), len(frames) // _TIMES)
    if length < _SHORT_S * rate:
        return None
    steps = [0.0]
    before = frames[0]
    for number in range(1, len(frames)):
        frame = frames[number]
        steps.append(cv2.norm(frame, before, cv2.NORM_L1))
        before = frame
    sums = np.concatenate([[0.0], np.cumsum(steps)])
    means = (sums[length:] - sums[:-length]) / length
    first = int(np.argmin(np.abs(means - np.mean(steps))))
    return first, first + length
