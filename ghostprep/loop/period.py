"""Tell whether a clip repeats itself exactly."""

from __future__ import annotations

from typing import Final

import numpy as np

from ghostprep.loop.thumbnail import Light

_TOLERANCE: Final = 0.1
"""Of the usual step: a repeat that is off by less is the same picture."""
_SAMPLES: Final = 24


def exact_period(points: Light, steps: Light, low: int, high: int) -> int | None:
    """Return the shortest exact period of `low` to `high` frames, or None.

    Parameters
    ----------
    points : ndarray of float32, shape (frames, d)
    steps : ndarray of float32, shape (frames - 1,)
        Distances between neighbours.
    low, high : int
        Shortest and longest period, in frames, inclusive.
    """
    count = len(points)
    high = min(high, count - 1)
    usual = float(np.median(steps))
    if high < low or usual <= 0:
        return None
    allowed = np.float32(_TOLERANCE * usual)
    # a lag that fails on one frame is out, so a handful of frames leaves few lags to be checked in full
    lags = np.arange(low, high + 1)
    for at in np.unique(np.linspace(0, count - low - 1, _SAMPLES).astype(np.int64)):
        inside = at + lags < count
        apart = np.zeros(len(lags), np.float32)
        apart[inside] = np.linalg.norm(points[at + lags[inside]] - points[at], axis=1)
        lags = lags[apart <= allowed]
        if not len(lags):
            return None
    for lag in lags.tolist():
        apart = np.linalg.norm(points[lag:] - points[:-lag], axis=1)
        # at least half a period must be seen twice, or the end of the clip would decide alone
        if count - lag >= max(2, lag // 2) and float(apart.max()) <= allowed:
            return int(lag)
    return None
