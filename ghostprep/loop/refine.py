"""Choose where exactly to join a pair of like moments, how long to blend, and how."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from typing import Final

import numpy as np

from ghostprep.errors import InputError
from ghostprep.loop.candidate import Candidate, Method
from ghostprep.loop.measure import Usual, candidate_of, measure_frames, measure_points
from ghostprep.loop.points import Stretch
from ghostprep.loop.strip import Strip
from ghostprep.loop.thumbnail import Pixels, shrink

ENOUGH_S: Final = 6.0
"""A longer loop is preferred up to here: the eye notices a short one by its repeating."""
UNSEEN: Final = 0.8
"""A score under which nothing is seen."""
BLENDS_S: Final = (0.0, 0.1, 0.2, 0.4, 0.8, 1.2)
_MOVED_S: Final = (0.2, 0.4, 0.8, 1.2)
THOROUGH: Final = 8
"""How many of the first are tried with more blends."""


def rank(candidate: Candidate, rate: Fraction) -> float:
    """Order by what is seen; among joins that nobody sees, by length, sharpness and a short blend."""
    short = max(0.0, 1 - float(candidate.frames / rate) / ENOUGH_S)
    cost = 0.15 * candidate.double + 0.5 * (1 - candidate.dip) + 0.05 * candidate.jerk
    cost += 0.1 * float(candidate.blend / rate) + 0.3 * short
    return max(candidate.score, UNSEEN) + 0.05 * candidate.score + cost


def best_on_points(
    stretch: Stretch, middle: int, lag: int, rate: Fraction, lags: tuple[int, int]
) -> Candidate | None:
    """Return the best plain join around frames `middle` and `middle` + `lag`, or None if none fits.

    Parameters
    ----------
    stretch : Stretch
    middle : int
        Middle of the earlier window, in frames of the stretch.
    lag : int
        Frames from it to the later one.
    rate : Fraction
        Frames a second.
    lags : (int, int)
        Shortest and longest loop in frames.
    """
    points, reach = stretch.points, max(2, round(0.12 * rate))
    near = [k for k in (lag - 1, lag, lag + 1) if lags[0] <= k <= lags[1]]
    lag = min(near, key=lambda k: _nearest(stretch, middle, k, 0, reach)[0])
    usual = Usual.of(stretch.steps[middle : middle + lag], stretch.jerks[middle : middle + lag])
    best: Candidate | None = None
    for blend in sorted({round(s * rate) for s in BLENDS_S}):
        if 2 * blend >= lag:
            continue
        _, begin = _nearest(stretch, middle - blend // 2, lag, blend, reach)
        if begin < 0:
            continue
        found = measure_points(points, begin, lag, blend, usual)
        one = candidate_of(begin, lag, blend, "crossfade" if blend else "cut", found)
        if best is None or rank(one, rate) < rank(best, rate):
            best = one
    if best is None:
        return None
    return replace(best, first=best.first + stretch.start, last=best.last + stretch.start)


def _nearest(stretch: Stretch, around: int, lag: int, blend: int, reach: int) -> tuple[float, int]:
    """Return the least mean distance of windows within `reach` of `around` and the first's begin, or -1."""
    low = max(0, around - reach)
    high = min(len(stretch.points) - lag - blend, around + reach)
    if high < low:
        return np.inf, -1
    # a blend compares the frames that it mixes; a cut shows between the frames on both of its sides
    taps = blend or 2
    at = low + 1 if blend else low  # in padded points, where frame k is at k + 1
    early = stretch.padded[at : at + high - low + taps]
    late = stretch.padded[at + lag : at + lag + high - low + taps]
    sums = np.cumsum(np.concatenate([[0.0], np.sum(np.square(late - early), axis=1)]))
    cost = (sums[taps:] - sums[:-taps]) / taps
    k = int(np.argmin(cost))
    return float(cost[k]), low + k


def best_on_frames(
    candidate: Candidate,
    strip: Strip,
    fetch: Callable[[int], Pixels],
    rate: Fraction,
    *,
    thorough: bool = True,
    fixed: bool = False,
) -> Candidate:
    """Measure a candidate on its frames, and return the best of its unblended, plain and moved forms.

    Parameters
    ----------
    candidate : Candidate
    strip : Strip
    fetch : callable
        Returns the keyed frame i.
    rate : Fraction
        Frames a second.
    thorough : bool
        Whether blends of other lengths are tried too.
    fixed : bool
        Whether first and last frame must stay what they are; else the blend's middle does.
    """
    usual = Usual.of(
        strip.steps[candidate.first : candidate.last], strip.jerks[candidate.first : candidate.last - 1]
    )
    lag, middle = candidate.frames, candidate.first - candidate.blend // 2
    best: Candidate | None = None
    lengths = {round(s * rate) for s in _MOVED_S} if thorough else set()
    for blend in sorted({0} if candidate.exact else {0, candidate.blend, *lengths}):
        begin = candidate.first - blend if fixed else max(0, middle - blend // 2)
        begin = begin if fixed else min(begin, len(strip) - lag - blend)
        if begin < 0 or 2 * blend >= lag:
            continue
        before = [shrink(fetch(i)) for i in range(begin + lag - 2, begin + lag + blend)]
        after = [shrink(fetch(i)) for i in range(begin, begin + blend + 2)]
        methods: tuple[Method, ...] = ("crossfade", "flow") if blend else ("cut",)
        for method in methods:
            found = measure_frames(before, after, method, usual)
            one = candidate_of(begin, lag, blend, method, found, exact=candidate.exact)
            if best is None or rank(one, rate) < rank(best, rate):
                best = one
        if best is not None and best.score <= UNSEEN:
            break  # a longer blend has nothing left to hide
    return best or candidate


def join_at(first: int, last: int, strip: Strip, fetch: Callable[[int], Pixels], rate: Fraction) -> Candidate:
    """Return the best join for a loop of frames `first` to `last`, exactly these.

    Parameters
    ----------
    first, last : int
        First and last frame, inclusive.
    strip, fetch, rate
        As for `search`.

    Raises
    ------
    InputError
        The frames are not all in the clip, or fewer than three.
    """
    if not 0 <= first <= last - 2 or last >= len(strip):
        raise InputError(
            f"frames {first} to {last} are no loop of a clip that has {len(strip)}",
            where="loop",
            remedy=f"take at least three frames of 0 to {len(strip) - 1}",
        )
    asked = Candidate(first, last, 0, "cut", float("inf"))
    return best_on_frames(asked, strip, fetch, rate, fixed=True)
