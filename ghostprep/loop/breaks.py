"""Find hard cuts and flashes, across which no loop may go."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import Final

import numpy as np

from ghostprep.arrays import Light

_OUTSTANDING: Final = 3.0
"""A cut's step over the usual step around it."""
_CHANGE: Final = 0.35
"""A cut's step over the light of the picture: a cut replaces it, fast motion moves part of it."""
_AROUND: Final = 12
"""Steps on either side of one that say what is usual there."""


@dataclass(frozen=True, slots=True)
class Breaks:
    """Where the clip's flow is broken."""

    cuts: tuple[int, ...]
    """First frame of each new shot."""
    flashes: tuple[int, ...]
    """Frames that differ from both neighbours while these are alike."""

    def stretches(self, count: int, *, flashes: bool) -> list[tuple[int, int]]:
        """Return the unbroken stretches (start, stop) of `count` frames, broken at `flashes` too if asked."""
        edges = sorted({0, count, *self.cuts, *(self.flashes if flashes else ())})
        gone = set(self.flashes) if flashes else set()
        stretches = []
        for start, stop in itertools.pairwise(edges):
            begin = start + 1 if start in gone else start
            if stop - begin >= 2:
                stretches.append((begin, stop))
        return stretches


def find_breaks(points: Light, light: Light) -> Breaks:
    """Find cuts and flashes.

    The points (frames, d) are as far apart as the thumbnails; light (frames,) is each one's distance from
    black.
    """
    # a picture that is held is one: between two that are the same there is neither motion nor a cut
    begins = np.flatnonzero(np.any(np.diff(points, axis=0, prepend=points[:1] + 1), axis=1))
    ends = np.append(begins[1:], len(points))
    points, light = points[begins], light[begins]
    if len(points) < 4:
        return Breaks((), ())
    steps = np.sqrt(np.sum(np.square(np.diff(points, axis=0)), axis=1))
    usual = _usual(steps)
    larger = np.maximum(light[:-1], light[1:])
    jumps = np.flatnonzero((steps > _OUTSTANDING * usual) & (steps > _CHANGE * larger)) + 1
    flashes: set[int] = set()
    cuts: list[int] = []
    # a sudden movement has many large steps in a row, a cut one, a flash two
    marked = {at for at in jumps.tolist() if np.count_nonzero(np.abs(jumps - at) <= 3) <= 2}
    for at in sorted(marked):
        if at - 1 in flashes:
            continue  # the way back from a flash
        back = float(np.linalg.norm(points[at + 1] - points[at - 1])) if at + 1 < len(points) else np.inf
        if at + 1 in marked and back < 0.5 * float(steps[at - 1]):
            flashes.add(at)
        else:
            cuts.append(at)
    held = (range(begins[at], ends[at]) for at in sorted(flashes))
    return Breaks(tuple(begins[cuts].tolist()), tuple(itertools.chain.from_iterable(held)))


def _usual(steps: Light) -> Light:
    """Return the upper quartile of the steps around each, never below a tenth of the clip's median."""
    padded = np.pad(steps, _AROUND, mode="reflect" if len(steps) > _AROUND else "edge")
    window = np.lib.stride_tricks.sliding_window_view(padded, 2 * _AROUND + 1)
    # a short fast movement raises the quartile, a cut (one step of 25) does not
    around = np.quantile(window, 0.75, axis=1)
    return np.asarray(np.maximum(around, 0.1 * np.median(steps) + 1e-6), np.float32)
