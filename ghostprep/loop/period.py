"""Tell whether a clip repeats itself exactly."""

from __future__ import annotations

from typing import Final

import numpy as np

from ghostprep.arrays import Light

_OFF: Final = 0.2
"""Share of a step: a period that is off by less makes a join of a fifth of the clip's own motion."""
_ODD: Final = 0.5
"""Share of a step: a picture that is farther than this from its repeat is another one, and not noise."""
_SAMPLES: Final = 24
"""Frames, spread over the clip, that say which periods are worth a whole look."""


def exact_period(points: Light, steps: Light, low: int, high: int) -> int | None:
    """Return the shortest period of `low` to `high` frames in which the clip repeats itself, or None.

    Parameters
    ----------
    points : ndarray of float32, shape (frames, d)
    steps : ndarray of float32, shape (frames - 1,)
        Distances between neighbours.
    low, high : int
        Shortest and longest period, in frames, inclusive.

    Notes
    -----
    The mean square difference of all pairs of frames that lie `lag` apart is a parabola around the true
    period: what noise leaves, plus the square of the time by which the lag is off, in steps. So the lag is
    decided by the whole clip, and coding noise, which is alike at each lag, does not hide it.
    """
    count = len(points)
    high = min(high, count - 2)
    if high < low or not steps.any():
        return None
    for lag in _promising(points, low, high):
        # at least half a period must be seen twice, or the end of the clip would decide alone
        if count - lag < max(2, lag // 2):
            break
        apart = _apart(points, lag)
        before, here, after = (
            float(_apart(points, lag - 1).mean()),
            float(apart.mean()),
            float(_apart(points, lag + 1).mean()),
        )
        step = (before + after) / 2 - here  # squared
        on_time = abs(before - after) <= 4 * _OFF * step
        if step > 0 and on_time and float(apart.max()) <= _ODD**2 * step:
            return int(lag)
    return None


def _apart(points: Light, lag: int) -> Light:
    """Return the squared distances of all frames that lie `lag` apart."""
    return np.asarray(np.square(points[lag:] - points[: len(points) - lag]).sum(axis=1), np.float32)


def _promising(points: Light, low: int, high: int) -> list[int]:
    """Return the lags whose frames are closer than those of their neighbours, by a handful of frames."""
    count = len(points)
    lags = np.arange(low - 1, high + 2)
    total, taken = np.zeros(len(lags)), np.zeros(len(lags))
    for at in np.unique(np.linspace(0, count - low - 1, _SAMPLES).astype(np.int64)):
        inside = at + lags < count
        total[inside] += np.square(points[at + lags[inside]] - points[at]).sum(axis=1)
        taken += inside
    mean = total / np.maximum(taken, 1)
    least = mean[1:-1] <= 1.5 * np.minimum(mean[:-2], mean[2:])
    return [int(lag) for lag in lags[1:-1][least & (mean[1:-1] <= 0.5 * np.median(mean))]]
