"""Search a clip for the joins that show least."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Final

import numpy as np

from ghostprep.loop.breaks import find_breaks
from ghostprep.loop.candidate import Candidate, Method
from ghostprep.loop.measure import STILL, Measures, fetch_small, measure_frames, measure_points
from ghostprep.loop.pairs import nearest_pairs, windows
from ghostprep.loop.period import exact_period
from ghostprep.loop.points import points_of
from ghostprep.loop.strip import Strip
from ghostprep.loop.thumbnail import Light, Pixels

SHORTEST_S: Final = 0.5
LONGEST_S: Final = 120.0
ENOUGH_S: Final = 6.0
"""A longer loop is preferred up to here: the eye notices a short one by its repeating."""
BLENDS_S: Final = (0.0, 0.1, 0.2, 0.4, 0.8, 1.2)
_WINDOWS_S: Final = (0.0, 0.4, 0.8)
_SHORTLIST: Final = 96


def search(
    strip: Strip,
    rate: Fraction,
    *,
    length_s: tuple[float, float] | None = None,
    fetch: Callable[[int], Pixels] | None = None,
    count: int = 24,
) -> list[Candidate]:
    """Find the stretches of a clip that loop best.

    Parameters
    ----------
    strip : Strip
        The whole clip's figure.
    rate : Fraction
        Frames a second.
    length_s : (float, float), optional
        Shortest and longest loop, in seconds. Default 0.5 to 120, where longer is preferred up to 6.
    fetch : callable, optional
        ``fetch(i)`` returns the keyed frame i, about 160 pixels wide. With it, the best are ranked again
        on the frames themselves, and motion-compensated blends are tried; without it, plain ones only.
    count : int
        How many candidates at most.

    Returns
    -------
    list of Candidate
        Best first; empty if the clip is too short. No loop goes across a hard cut.

    Notes
    -----
    A loop without a blend ends on the frame before the one that resembles its first. A blend of n frames
    mixes the loop's last n with the n before its first, so those windows are compared, appearance and motion
    together [1]_. Distances come from matrix products of blocks; the whole matrix is never held.

    References
    ----------
    .. [1] Schodl, Szeliski, Salesin, Essa, Video Textures, SIGGRAPH 2000, section 3.
    """
    total = len(strip)
    if total < 4:
        return []
    points, light = points_of(strip)
    lags = lag_range(total, rate, length_s)
    job = _Job(points, rate, lags)
    breaks = find_breaks(points, light)
    found = _in_stretches(job, breaks.stretches(total, flashes=True), count)
    if not found and breaks.flashes:
        found = _in_stretches(job, breaks.stretches(total, flashes=False), count)
    if fetch is not None:
        found = [_measured(c, strip, fetch, rate) for c in found]
        found.sort(key=lambda c: _rank(c, rate))
    return found


def lag_range(count: int, rate: Fraction, length_s: tuple[float, float] | None) -> tuple[int, int]:
    """Return least and greatest loop length in frames; the greatest is the lesser in too short a clip."""
    low, high = length_s if length_s is not None else (SHORTEST_S, LONGEST_S)
    if not 0 < low <= high:
        raise ValueError(f"a length from {low} to {high} s; both must be above 0 and in order")
    least = math.ceil(low * rate - Fraction(1, 1000))
    most = math.floor(high * rate + Fraction(1, 1000))
    if most < least:  # both within one frame: the nearest whole number of frames
        least = most = round(low * rate)
    if length_s is None:
        least = min(least, max(2, count // 4))
    return max(2, least), min(most, count - 1)


@dataclass(frozen=True, slots=True)
class _Job:
    points: Light
    rate: Fraction
    lags: tuple[int, int]


def _in_stretches(job: _Job, stretches: Iterable[tuple[int, int]], count: int) -> list[Candidate]:
    found: list[Candidate] = []
    for start, stop in stretches:
        found += _in_stretch(replace(job, points=job.points[start:stop]), start)
    return _apart(sorted(found, key=lambda c: _rank(c, job.rate)), job.rate, count)


def _in_stretch(job: _Job, offset: int) -> list[Candidate]:
    points, rate, (low, high) = job.points, job.rate, job.lags
    if len(points) <= low + 1:
        return []
    steps = np.sqrt(np.sum(np.square(np.diff(points, axis=0)), axis=1))
    period = exact_period(points, steps, low, high)
    if period is not None:
        return _periodic(points, steps, period, offset)
    blends = sorted({round(s * rate) for s in BLENDS_S})
    tile = max(2, round(0.12 * rate))
    pairs: set[tuple[int, int]] = set()
    for seconds in _WINDOWS_S:
        length = max(2, round(seconds * rate))
        if length + low > len(points):
            continue
        for _, at, lag in nearest_pairs(windows(points, length), (low, high), tile, _SHORTLIST):
            pairs.add((at, lag))
    found = []
    for pair in pairs:
        best = _best_blend(points, steps, pair, blends, rate)
        if best is not None:
            found.append(replace(best, first=best.first + offset, last=best.last + offset))
    return found


def _best_blend(
    points: Light, steps: Light, pair: tuple[int, int], blends: Sequence[int], rate: Fraction
) -> Candidate | None:
    """Return the best blend for a pair of like moments."""
    at, lag = pair
    inner = steps[at : at + lag]
    largest, usual = _scale(inner)
    best: Candidate | None = None
    for blend in blends:
        if blend >= lag // 2:
            continue
        begin = max(1, at - blend // 2) if blend == 0 else max(0, at - blend // 2)
        if begin + lag + blend > len(points) - 1:
            begin = len(points) - 1 - lag - blend
            if begin < (1 if blend == 0 else 0):
                continue
        found = measure_points(points, begin, lag, blend, largest=largest, usual=usual)
        candidate = make_candidate(begin, lag, blend, "crossfade" if blend else "cut", found)
        if best is None or _rank(candidate, rate) < _rank(best, rate):
            best = candidate
    return best


def make_candidate(begin: int, lag: int, blend: int, method: Method, found: Measures) -> Candidate:
    """Return the loop whose blend mixes frame `begin` + `lag` + i with frame `begin` + i."""
    first = begin + blend
    return Candidate(
        first, first + lag - 1, blend, method, found.score, found.step, found.double, found.dip, found.ripple
    )


def _scale(steps: Light) -> tuple[float, float]:
    if not len(steps):
        return STILL, STILL
    largest, usual = np.quantile(steps, [0.95, 0.5])
    return max(float(largest), STILL), max(float(usual), STILL)


def _periodic(points: Light, steps: Light, period: int, offset: int) -> list[Candidate]:
    """Return loops of exactly one period, begun where least moves."""
    places = np.arange(1, len(points) - period + 1)
    order = places[np.argsort(steps[places - 1], kind="stable")]
    found: list[Candidate] = []
    for at in order.tolist():
        if all(abs(at - c.first + offset) > period // 8 for c in found):
            largest, usual = _scale(steps[at : at + period - 1])
            one = measure_points(points, at, period, 0, largest=largest, usual=usual)
            found.append(make_candidate(at + offset, period, 0, "cut", one))
        if len(found) == 8:
            break
    return found


def _rank(candidate: Candidate, rate: Fraction) -> float:
    """Order by what is seen: below 0.7 nothing is, so there length, sharpness and a short blend decide."""
    short = max(0.0, 1 - float(candidate.frames / rate) / ENOUGH_S)
    cost = 0.15 * candidate.double + 0.5 * (1 - candidate.dip) + 0.1 * float(candidate.blend / rate)
    return max(candidate.score, 0.7) + 0.05 * candidate.score + cost + 0.3 * short


def _apart(ranked: Iterable[Candidate], rate: Fraction, count: int) -> list[Candidate]:
    """Keep candidates that are not nearly the same as a better one."""
    near = max(1, round(0.25 * rate))
    kept: list[Candidate] = []
    for one in ranked:
        if all(abs(one.first - k.first) > near or abs(one.frames - k.frames) > near // 3 for k in kept):
            kept.append(one)
        if len(kept) == count:
            break
    return kept


def _measured(
    candidate: Candidate, strip: Strip, fetch: Callable[[int], Pixels], rate: Fraction
) -> Candidate:
    """Measure `candidate` on its frames, and return the best of its plain, moved and unblended forms."""
    largest, usual = _scale(strip.steps[candidate.first : candidate.last])
    lag, n = candidate.frames, candidate.blend
    middle = candidate.first - n // 2
    forms: list[Candidate] = []
    lengths = {n} if n == 0 and candidate.score <= 1 and candidate.step < 0.05 else {0, n, round(0.4 * rate)}
    for blend in sorted(lengths):
        begin = middle - blend // 2
        if begin < (1 if blend == 0 else 0) or begin + lag + blend >= len(strip) or blend >= lag // 2:
            continue
        before = fetch_small(fetch, begin + lag - 1, begin + lag + blend)
        after = fetch_small(fetch, begin, begin + blend + 1)
        methods: tuple[Method, ...] = ("crossfade", "flow") if blend else ("cut",)
        for method in methods:
            found = measure_frames(before, after, method, largest, usual)
            forms.append(make_candidate(begin, lag, blend, method, found))
    return min(forms, key=lambda c: _rank(c, rate)) if forms else candidate
