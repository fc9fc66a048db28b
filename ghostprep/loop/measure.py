"""Measure a join before it is made: step, double image, sharpness, brightness."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from ghostprep.loop.candidate import Method
from ghostprep.loop.flow import exchange, motion, move
from ghostprep.loop.strip import rms, sharpness
from ghostprep.loop.thumbnail import Light, Pixels, shrink
from ghostprep.transfer import codes_to_light, luminance

DOUBLE_LIMIT: Final = 1.0
"""In steps of the usual motion: two images no further apart than a frame's own motion look like motion."""
SOFTENING_LIMIT: Final = 0.2
RIPPLE_LIMIT: Final = 0.02
STILL: Final = 1e-4
"""RMS step in linear light under which a loop counts as still: less than one code of a dark grey."""


@dataclass(frozen=True, slots=True)
class Measures:
    """What a blend costs; see `Candidate` for the units."""

    step: float
    double: float = 0.0
    dip: float = 1.0
    ripple: float = 0.0

    @property
    def score(self) -> float:
        """The worst of all, each over its limit."""
        return max(
            self.step,
            self.double / DOUBLE_LIMIT,
            (1 - self.dip) / SOFTENING_LIMIT,
            self.ripple / RIPPLE_LIMIT,
        )


def weights(blend: int) -> Light:
    """Return the shares (blend,) of the second frame in a blend of `blend` frames."""
    return np.arange(1, blend + 1, dtype=np.float32) / np.float32(blend + 1)


def measure_points(points: Light, at: int, lag: int, blend: int, *, largest: float, usual: float) -> Measures:
    """Measure a plain crossfade on points, which mix as the frames do.

    Parameters
    ----------
    points : ndarray of float32, shape (frames, d)
    at, lag : int
        The blend mixes frame at + lag + i with frame at + i; for a cut `at` is the loop's first frame.
    blend : int
        Frames of the blend; 0 for a cut.
    largest, usual : float
        95th percentile and median of the steps elsewhere.
    """
    if blend == 0:
        return Measures(step=float(np.linalg.norm(points[at] - points[at + lag - 1])) / largest)
    before, after = points[at + lag - 1 : at + lag + blend], points[at : at + blend + 1]
    share = weights(blend)[:, None]
    apart = points[at : at + blend] - before[1:]
    mixed = before[1:] + share * apart
    path = np.concatenate([before[:1], mixed, after[-1:]])
    steps = np.sqrt(np.sum(np.square(np.diff(path, axis=0)), axis=1))
    double = 4 * share[:, 0] * (1 - share[:, 0]) * np.sqrt(np.sum(np.square(apart), axis=1))
    return Measures(step=float(steps.max()) / largest, double=float(double.max()) / usual)


def measure_frames(
    before: Sequence[Pixels], after: Sequence[Pixels], method: Method, largest: float, usual: float
) -> Measures:
    """Measure a blend on frames.

    Parameters
    ----------
    before : sequence of ndarray of uint8, shape (h, w, 3)
        The frame before the blend, then the blend's own first frames.
    after : sequence of ndarray of uint8, shape (h, w, 3)
        The frames that those are mixed with, then the loop's first frame: as many as `before`.
    method : {"cut", "crossfade", "flow"}
    largest, usual : float
        95th percentile and median of the steps elsewhere, RMS of luminance in linear light.
    """
    firsts = [codes_to_light(f) for f in before]
    seconds = [codes_to_light(f) for f in after]
    share = weights(len(before) - 1)
    path = [luminance(firsts[0])]
    double, dip, ripple = 0.0, 1.0, 0.0
    for k, w in enumerate(share):
        a, b = firsts[k + 1], seconds[k]
        if method == "flow":
            moved_a = move(a, motion(before[k + 1], after[k]), float(w))
            moved_b = move(b, motion(after[k], before[k + 1]), 1 - float(w))
            part = np.float32(exchange(float(w)))
        else:
            moved_a, moved_b, part = a, b, w
        grey_a, grey_b = luminance(moved_a), luminance(moved_b)
        mixed = grey_a + part * (grey_b - grey_a)
        path.append(mixed)
        double = max(double, float(4 * part * (1 - part)) * rms(grey_b - grey_a))
        dip = min(dip, _over(sharpness(mixed), luminance(a), luminance(b), float(w), sharpness))
        level = _over(float(mixed.mean()), luminance(a), luminance(b), float(w), _mean)
        ripple = max(ripple, abs(level - 1))
    path.append(luminance(seconds[-1]))
    steps = [rms(y - x) for x, y in itertools.pairwise(path)]
    return Measures(step=max(steps) / largest, double=double / usual, dip=dip, ripple=ripple)


def _mean(grey: Light) -> float:
    return float(grey.mean())


def _over(value: float, a: Light, b: Light, weight: float, measure: Callable[[Light], float]) -> float:
    wanted = (1 - weight) * measure(a) + weight * measure(b)
    return value / wanted if wanted > 1e-7 else 1.0


def fetch_small(fetch: Callable[[int], Pixels], start: int, stop: int) -> list[Pixels]:
    """Return frames `start` to `stop` - 1 at the working size."""
    return [shrink(fetch(i)) for i in range(start, stop)]
