"""Find the pairs of moments that are most alike, among all pairs of a long clip."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final, TypeAlias

import numpy as np
import numpy.typing as npt

from ghostprep.arrays import Floats, Light

_Pairs: TypeAlias = tuple[Floats, npt.NDArray[np.int64], npt.NDArray[np.int64]]
"""Squared distances, first rows and lags of some pairs."""
_CELLS: Final = 4_000_000
"""Distances held at a time: 16 MB."""
_BUDGET: Final = 400_000_000
"""Distances computed for one window; beyond it the first moment is taken on a grid."""


def windows(points: Light, length: int) -> Light:
    """Describe the window of `length` frames, 2 or more, at each frame by its middle and its motion.

    The squared distance of two rows (2 d) is the mean squared distance of the two windows, frame by frame,
    when each window's motion is taken as even.
    """
    sums = np.cumsum(np.pad(points, ((1, 0), (0, 0))), axis=0, dtype=np.float64)
    middle = ((sums[length:] - sums[:-length]) / length).astype(np.float32)
    del sums
    offsets = np.arange(length) - (length - 1) / 2
    count = len(points) - length + 1
    motion = np.zeros((count, points.shape[1]), np.float32)
    for k, offset in enumerate(offsets.tolist()):
        motion += np.float32(offset) * points[k : k + count]
    # slope times the window's spread: motion / sum(o^2) * sqrt(mean(o^2))
    motion /= np.float32(np.sqrt(length * np.sum(np.square(offsets))))
    return np.concatenate([middle, motion], axis=1)


def nearest_pairs(
    rows: Light, lags: tuple[int, int], tile: int, most: int, moved: Light
) -> list[tuple[float, int, int]]:
    """Return the nearest pairs of rows, one for each neighbourhood.

    Parameters
    ----------
    rows : ndarray of float32, shape (n, d)
    lags : (int, int)
        Least and greatest distance in frames between the two, inclusive.
    tile : int
        Size in frames of a neighbourhood.
    most : int
        How many pairs at most.
    moved : ndarray of float32, shape (n,)
        A pair is none where it falls from the first row to the second.

    Returns
    -------
    list of (float, int, int)
        Squared distance, first row, lag; nearest first.
    """
    low, high = lags[0], min(lags[1], len(rows) - 1)
    if high < low:
        return []
    starts = len(rows) - low
    stride = max(1, -(-starts * (high - low + 1) // _BUDGET))
    best: _Pairs | None = None
    for first, distance in _blocks(rows, low, high, stride, moved):
        here = _nearest_of_tiles(distance, first, low, (max(1, tile // stride), max(1, tile)), most)
        best = here if best is None else _nearest_of_both(best, here, most)
    if best is None:
        return []
    value, at, lag = best
    order = np.argsort(value, kind="stable")
    return [(float(value[i]), int(at[i]), int(lag[i])) for i in order if np.isfinite(value[i])]


def _blocks(
    rows: Light, low: int, high: int, stride: int, moved: Light
) -> Iterator[tuple[npt.NDArray[np.int64], Light]]:
    """Yield starts (m,) and distances (m, high - low + 1) by lag; lags past the end are infinite."""
    norms = np.sum(np.square(rows, dtype=np.float64), axis=1).astype(np.float32)
    width = high - low + 1
    for begin, size in _batches(len(rows) - low, stride, width):
        first = np.arange(begin, min(begin + size * stride, len(rows) - low), stride)
        left, right = int(first[0]) + low, min(int(first[-1]) + high + 1, len(rows))
        product = rows[first] @ rows[left:right].T
        product *= -2
        product += norms[first][:, None]
        product += norms[left:right]
        product[moved[left:right] < moved[first][:, None]] = np.inf
        # row r of the block wants columns from r * stride on: a skewed view turns columns into lags
        short = int(first[-1]) - int(first[0]) + width - product.shape[1]
        if short > 0:
            product = np.pad(product, ((0, 0), (0, short)), constant_values=np.inf)
        wide = product.shape[1]
        skewed = np.lib.stride_tricks.as_strided(
            product, (len(first), width), ((wide + stride) * 4, 4), writeable=False
        )
        yield first, skewed


def _batches(starts: int, stride: int, width: int) -> Iterator[tuple[int, int]]:
    # the rectangle that holds all lags of m rows is m * stride wider than the lags themselves
    size = max(8, min(_CELLS // (2 * width), int(np.sqrt(_CELLS / (2 * stride)))))
    for begin in range(0, starts, size * stride):
        yield begin, size


def _nearest_of_tiles(
    distance: Light, first: npt.NDArray[np.int64], low: int, tile: tuple[int, int], most: int
) -> _Pairs:
    """Return the nearest pair of each tile, the nearest `most` of them; a tile has rows and lags."""
    tall, wide = tile
    least = _every(_every(distance, tall).T, wide).T
    keep = _smallest(least.ravel(), most)
    value, at, lag = np.empty(len(keep), np.float32), *np.empty((2, len(keep)), np.int64)
    for n, cell in enumerate(keep):
        r, c = divmod(int(cell), least.shape[1])
        part = distance[r * tall : (r + 1) * tall, c * wide : (c + 1) * wide]
        y, x = divmod(int(np.argmin(part)), part.shape[1])
        value[n], at[n], lag[n] = part[y, x], first[r * tall + y], low + c * wide + x
    return value, at, lag


def _every(values: Light, size: int) -> Light:
    """Return the least of each `size` rows (the last group may be smaller)."""
    least = values[::size].copy()
    for k in range(1, size):
        part = values[k::size]
        np.minimum(least[: len(part)], part, out=least[: len(part)])
    return least


def _nearest_of_both(some: _Pairs, more: _Pairs, most: int) -> _Pairs:
    value, at, lag = (np.concatenate([some[k], more[k]]) for k in range(3))
    keep = _smallest(value, most)
    return value[keep], at[keep], lag[keep]


def _smallest(values: Floats, most: int) -> npt.NDArray[np.intp]:
    """Return the places of the `most` smallest values (n,), in any order; all where there are no more."""
    return np.argpartition(values, most - 1)[:most] if len(values) > most else np.arange(len(values))
