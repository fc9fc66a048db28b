"""The strip as a cloud of points whose distances are those of the thumbnails."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np

from ghostprep.arrays import Light
from ghostprep.loop.quantile import quantile
from ghostprep.loop.strip import VECTOR, ThumbnailStrip
from ghostprep.transfer import STILL

_DIMENSIONS: Final = 48
"""Directions in which frames are compared: the cost of all pairs grows with them."""
_SAMPLE: Final = 3000
"""Frames that the directions are found from."""
_BLOCK: Final = 4096
"""Frames that are held at a time: 10 MB."""
_RARER: Final = 1.1
"""By how much the rarest changes of motion exceed their 95th percentile, where all of a motion is alike."""
_MOVES: Final = 0.05
"""Share of the mean motion: where less moves, as in a pause, a loop would be a picture."""
_STEP_WEIGHT: Final = 25.0
"""How much a step counts beside a picture: motion is small, and is what a join shows."""


@dataclass(frozen=True)
class Shot:
    """An unbroken part of the clip."""

    start: int
    """Its first frame's number in the clip."""
    points: Light
    """(frames, d)."""

    @cached_property
    def padded(self) -> Light:
        """The points with one extrapolated point before the first and one after the last, (frames + 2, d).

        A clip that is one whole turn has nothing before its first frame nor after its last; even motion
        gives what would be there.
        """
        p = self.points
        return np.concatenate([2 * p[:1] - p[1:2], p, 2 * p[-1:] - p[-2:-1]])

    @cached_property
    def steps(self) -> Light:
        """Distances (frames - 1,) between neighbours."""
        return _lengths(np.diff(self.points, axis=0))

    @cached_property
    def jerks(self) -> Light:
        """Lengths (frames - 2,) of the second differences."""
        return _lengths(np.diff(self.points, 2, axis=0))

    @cached_property
    def moved(self) -> Light:
        """What falls (frames,) from one frame to a later one if next to nothing moves between the two."""
        way = np.cumsum(np.pad(self.steps, (1, 0)), dtype=np.float64)
        return np.asarray(way - _MOVES * way[-1] * np.linspace(0, 1, len(way)), np.float32)

    def moves(self, first: int, last: int) -> bool:
        """Return whether more than next to nothing moves from frame `first` of the clip to frame `last`."""
        return bool(self.moved[last - self.start] >= self.moved[first - self.start])

    def turn(self, first: int, last: int, reach: int) -> float:
        """Return how much the motion changes across a join of frame `last` to frame `first`.

        Parameters
        ----------
        first, last : int
            Frames of the clip, `reach` or more apart.
        reach : int
            Steps, 1 or more, over which motion is looked at on either side.

        Returns
        -------
        float
            Over the loop's own fast motion (95th percentile), or over the most that its motion changes
            elsewhere, whichever is larger; see `LoopCandidate.turn`.

        Notes
        -----
        An edge that moves by more than its width from frame to frame is as far from where it was as from
        anywhere: a turn about then changes the motion no more than going on does. But its way leads back, so
        the detour over the join counts too: two ways of `reach` steps together, less the straight way.
        """
        own = self.points[first - self.start : last - self.start + 1]
        motion = own[reach:] - own[:-reach]
        fast = quantile(_lengths(motion), 0.95)
        change = np.linalg.norm(motion[0] - motion[-1])
        detour = _detours(np.concatenate([own[-2 * reach :], own[: 2 * reach]]), reach).max(initial=0)
        usual = _lengths(motion[reach + 1 :] - motion[: -reach - 1]), _detours(own, reach)
        return max(
            float(value) / max(fast, _RARER * _largest(others), STILL)
            for value, others in zip((change, detour), usual, strict=True)
        )


def _lengths(vectors: Light) -> Light:
    return np.asarray(np.sqrt(np.sum(np.square(vectors), axis=1)), np.float32)


def _largest(values: Light) -> float:
    """Return the 95th percentile, and of a handful of drawings, one of which is the rarest, the largest."""
    place = math.ceil(0.95 * (len(values) - 1))
    return float(np.partition(values, place)[place]) if len(values) else 0.0


def _detours(points: Light, reach: int) -> Light:
    """Return how much longer the way from each point to the one 2 `reach` on is by the one between them."""
    begin, middle, end = points[: -2 * reach], points[reach:-reach], points[2 * reach :]
    return _lengths(middle - begin) + _lengths(end - middle) - _lengths(end - begin)


def _main_directions(covariance: Light) -> Light:
    """Return the main directions (n, d) of a covariance (n, n) by subspace iteration."""
    start = np.random.default_rng(0).standard_normal((len(covariance), _DIMENSIONS)).astype(np.float32)
    basis = np.linalg.qr(covariance @ start)[0]
    for _ in range(4):
        basis = np.linalg.qr(covariance @ basis)[0]
    return np.asarray(basis, np.float32)


def points_of(strip: ThumbnailStrip) -> tuple[Light, Light]:
    """Project all thumbnails on the directions in which they differ most.

    Returns
    -------
    points : ndarray of float32, shape (frames, d)
        d is at most 48. Distances are RMS differences of the thumbnails.
    light : ndarray of float32, shape (frames,)
        RMS of each thumbnail: its distance from black.

    Notes
    -----
    Principal components of up to 3,000 frames spread over the clip and of the steps between them and their
    followers: without the steps, small fast motion would be lost behind large slow changes.
    """
    count = len(strip)
    places = np.unique(np.linspace(0, max(count - 2, 0), min(count, _SAMPLE)).astype(np.int64))
    covariance = np.zeros((VECTOR, VECTOR), np.float64)
    total = np.zeros(VECTOR, np.float64)
    taken = 0
    for start in range(0, count, _BLOCK):
        stop = min(count, start + _BLOCK + 1)
        rows = strip.vectors(start, stop)
        here = places[(places >= start) & (places < start + _BLOCK)] - start
        if not len(here):
            continue
        picked = rows[here]
        total += picked.sum(axis=0)
        taken += len(here)
        covariance += picked.T @ picked
        moved = rows[np.minimum(here + 1, len(rows) - 1)] - picked
        covariance += _STEP_WEIGHT * (moved.T @ moved)
    mean = total / max(taken, 1)
    covariance -= taken * np.outer(mean, mean)
    basis = _main_directions(covariance.astype(np.float32)) / np.float32(np.sqrt(VECTOR))
    points = np.empty((count, basis.shape[1]), np.float32)
    light = np.empty(count, np.float32)
    for start in range(0, count, _BLOCK):
        stop = min(count, start + _BLOCK)
        rows = strip.vectors(start, stop)
        light[start:stop] = np.sqrt(np.mean(np.square(rows), axis=1))
        points[start:stop] = (rows - mean.astype(np.float32)) @ basis
    return points, light
