"""A part of a loop that moves about as much as the whole."""

from __future__ import annotations

from fractions import Fraction
from typing import Final

import cv2
import numpy as np

from ghostprep.prepare.store import Frames

PART_S: Final = 2.5
"""Long enough for an encoder to show what the figure costs it, seconds."""
_TIMES: Final = 3
"""How many times as long a loop must be for a part to be worth it."""


def typical_part(frames: Frames, rate: Fraction) -> tuple[int, int] | None:
    """Return the first frame, and the one after the last, of a part that is about as lively as all of it.

    Parameters
    ----------
    frames : Frames
        Of the loop, in play order.
    rate : Fraction
        Frames a second.

    Returns
    -------
    (int, int) or None
        None where the loop is so short that a part would hardly be less than all of it.
    """
    length = round(PART_S * rate)
    if len(frames) < _TIMES * length:
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
