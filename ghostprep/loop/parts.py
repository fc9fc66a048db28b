"""Each part of the picture held against its own motion."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import cv2
import numpy as np

from ghostprep.arrays import Light
from ghostprep.loop.quantile import quantile
from ghostprep.loop.strip import ThumbnailStrip
from ghostprep.loop.thumbnail import THUMBNAIL
from ghostprep.transfer import STILL

_CELLS: Final = THUMBNAIL[0] * THUMBNAIL[1]
_LEAST: Final = 4 * STILL
"""Light a step: what changes by less, and is nearly still, is not held against itself."""


class PartMotion:
    """The own motion of each part of the picture over a loop.

    Smoke drifts slowly beside a dancer: where it jumps at a join, the step of the whole picture, most of
    which is the dancer's, does not tell.
    """

    def __init__(self, strip: ThumbnailStrip, first: int, last: int) -> None:
        """Take frames `first` to `last`, inclusive."""
        steps = np.abs(np.diff(strip.vectors(first, last + 1)[:, :_CELLS], axis=0))
        # a figure that walks by passes each place once, or next to it
        largest = steps.max(axis=0, initial=_LEAST).reshape(THUMBNAIL[::-1])
        self._own = cv2.dilate(largest, np.ones((3, 3), np.uint8)).ravel()
        weighed = self._weighed(steps)
        self._usual = max(quantile(weighed, 0.95) if len(steps) else 0.0, STILL / _LEAST)

    def _weighed(self, steps: Light) -> Light:
        """Return the RMS (n,) of steps (n, cells), each cell's in its own fast steps."""
        return np.asarray(np.sqrt(np.mean(np.square(steps / self._own), axis=1)), np.float32)

    def jump(self, path: Sequence[Light]) -> float:
        """Return the largest step of a path of luminances (h, w), over the loop's own (95th percentile)."""
        cells = np.stack([cv2.resize(one, THUMBNAIL, interpolation=cv2.INTER_AREA).ravel() for one in path])
        return float(self._weighed(np.abs(np.diff(cells, axis=0))).max()) / self._usual
