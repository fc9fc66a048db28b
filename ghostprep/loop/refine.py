"""Choose where exactly to join a pair of like moments, how long to blend, and how."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Final

import numpy as np

from ghostprep.arrays import Frame, Light
from ghostprep.loop.candidate import GOOD, UNSEEN, LoopCandidate, Method
from ghostprep.loop.measure import (
    JERK_LIMIT,
    PART_LIMIT,
    MeasuredPair,
    Usual,
    candidate_of,
    grey_of,
    measure_frames,
    measure_points,
    with_turn,
)
from ghostprep.loop.parts import PartMotion
from ghostprep.loop.points import Shot
from ghostprep.loop.quantile import quantile
from ghostprep.loop.strip import ThumbnailStrip
from ghostprep.loop.thumbnail import shrink

ENOUGH_S: Final = 6.0
"""Length up to which a longer loop is preferred: the eye notices a short one by its repeating."""
BLENDS_S: Final = (0.0, 0.1, 0.2, 0.4, 0.8, 1.2)
MOVED_S: Final = (0.2, 0.4, 0.8, 1.2)
"""Lengths that are tried, seconds: of plain blends, and of blends that move the figure."""
_LONG_S: Final = 0.4
"""Seconds of a blend from which on a good join is enough."""
_SHIFT_S: Final = 0.6
"""Seconds by which a moved blend may be shifted."""
_LAG_S: Final = 0.8
"""Seconds of motion on either side of a join that decide its lag."""
_MISSED: Final = 0.15
"""Share of two windows' distance that the motion found between them leaves over."""
_HARDLY: Final = 1.2
"""A cut's step over the usual up to which it is the clip's own motion that is fast there, and no jump."""
_OVER: Final = 17
"""The most steps over which a cut is slowed."""
_EASED: Final = 0.93
"""What a slowed cut comes down to by its steps: as drawn between two frames they are up to a 20th longer."""
_THOROUGH: Final = 6
"""Candidates, the best first, that are tried with more blends."""


def rank(candidate: LoopCandidate, rate: Fraction) -> float:
    """Order by what is seen; among joins that nobody sees, by length, sharpness and a short blend."""
    a_second = float(rate)
    short = max(0.0, 1 - candidate.frames / a_second / ENOUGH_S)
    cost = 0.2 * min(candidate.double, 1.5) + 0.5 * (1 - candidate.dip) + 0.05 * candidate.jerk
    cost += 0.1 * candidate.blend / a_second + 0.5 * short
    # a slowed cut is none of the clip's own joins: any of those that nobody sees is better
    score = max(candidate.score, 1.0) if candidate.slow else candidate.score
    # measured on the file a join differs by up to a tenth from this: near the limit it may fail
    risk = max(0.0, score - UNSEEN)
    return max(score, UNSEEN) + risk + 0.05 * score + cost


def _even(seconds: Iterable[float], rate: Fraction) -> set[int]:
    """Return even numbers of frames: no frame then lies in the middle, where both images are equal."""
    return {2 * round(s * rate / 2) for s in seconds}


def best_on_points(
    stretch: Shot, middle: int, lag: int, rate: Fraction, lags: tuple[int, int]
) -> LoopCandidate | None:
    """Return the best plain join around frames `middle` and `middle` + `lag`, or None if none fits.

    Parameters
    ----------
    middle : int
        Middle of the earlier window, in frames of the stretch.
    lag : int
        Frames from it to the later one.
    lags : (int, int)
        Shortest and longest loop in frames.
    """
    points, reach = stretch.points, max(2, round(0.12 * rate))
    near = [k for k in (lag - 1, lag, lag + 1) if lags[0] <= k <= lags[1]]
    # at a turning point the two frames on either side are alike for every lag: the motion around it decides
    around = max(0, min(round(_LAG_S * rate), len(points) - max(near)))
    lag = min(near, key=lambda k: _nearest(stretch, middle - around // 2, k, around, reach)[0])
    best: LoopCandidate | None = None
    for blend in sorted(_even(BLENDS_S, rate)):
        if 2 * blend >= lag:
            continue
        _, begin = _nearest(stretch, middle - blend // 2, lag, blend, reach)
        if begin < 0:
            continue
        usual = Usual.of(*(own[begin + blend : begin + lag - 1] for own in (stretch.steps, stretch.jerks)))
        found = measure_points(points, begin, lag, blend, usual)
        one = candidate_of(begin, lag, blend, "crossfade" if blend else "cut", found)
        if best is None or rank(one, rate) < rank(best, rate):
            best = one
    if best is None:
        return None
    best = replace(best, first=best.first + stretch.start, last=best.last + stretch.start)
    return with_turn(best, stretch, rate)


def _nearest(stretch: Shot, around: int, lag: int, blend: int, reach: int) -> tuple[float, int]:
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


def calmest(stretch: Shot, around: int, lag: int, blend: int, reach: int) -> int:
    """Return where a moved blend of `blend` frames near `around` would add least to the motion there, or -1.

    A moved blend adds the windows' distance, spread over the blend, to the motion of both; and the further
    apart the windows are, the worse their motion is found.
    """
    low = max(0, around - reach)
    high = min(len(stretch.points) - lag - blend, around + reach)
    if high < low:
        return -1
    early, late = stretch.points[low : high + blend], stretch.points[low + lag : high + lag + blend]
    sums = np.cumsum(np.concatenate([[0.0], np.linalg.norm(late - early, axis=1)]))
    apart = (sums[blend:] - sums[:-blend]) / blend
    padded = np.pad(stretch.steps, 1, mode="edge")
    busy = np.maximum(padded[low : high + blend + 1], padded[low + lag : high + lag + blend + 1])
    busiest = np.lib.stride_tricks.sliding_window_view(busy, blend + 1).max(axis=1)
    return low + int(np.argmin(busiest + apart * (1 / (blend + 1) + _MISSED)))


class PairedFrames:
    """The clip's keyed frames at the working size, and pairs of them, `lag` apart, with their motion."""

    def __init__(self, fetch: Callable[[int], Frame], lag: int) -> None:
        self._fetch = fetch
        self.lag = lag
        self._looks: dict[int, MeasuredPair] = {}

    def look(self, i: int) -> MeasuredPair:
        """Return frame i + lag and frame i as a pair."""
        if i not in self._looks:
            self._looks[i] = MeasuredPair(shrink(self._fetch(i + self.lag)), shrink(self._fetch(i)))
        return self._looks[i]

    def measure(self, begin: int, blend: int, method: Method, usual: Usual) -> Iterator[LoopCandidate]:
        """Measure the join whose blend mixes frame `begin` + lag + i with frame `begin` + i.

        Yields it with what is known so far, which only gets worse, and at last with all. Frames are fetched
        when they are needed.
        """
        after = begin + blend

        def ends() -> list[Light]:
            around = (begin + self.lag - 2, begin + self.lag - 1, after, after + 1)
            return [grey_of(shrink(self._fetch(i))) for i in around]

        for found in measure_frames(ends, lambda i: self.look(begin + i), blend, method, usual):
            yield candidate_of(begin, self.lag, blend, method, found)


def usual_of(strip: ThumbnailStrip, first: int, last: int) -> Usual:
    """Return the own motion of frames `first` to `last`."""
    return Usual.of(strip.steps[first:last], strip.jerks[first : max(last - 1, first)])


def eased(cut: LoopCandidate, strip: ThumbnailStrip, usual: Usual) -> LoopCandidate:
    """Return a cut that is hardly faster than the loop's own motion, slowed around the cut.

    A clip that is one whole turn can be cut at one place only, and may move fastest there. One frame more
    over as many steps as can share it makes each of them shorter, by less than the eye tells.
    """
    if round(cut.step, 2) <= 1 or cut.step > _HARDLY or cut.score > cut.step:
        return cut
    others = cut.jerk / JERK_LIMIT, cut.part / PART_LIMIT
    steps = np.append(strip.steps[cut.first : cut.last], cut.step * usual.largest)
    for over in range(min(_OVER, len(steps) // 4 * 2 + 1), 0, -2):
        inside = np.arange(-1 - over // 2, over // 2) % len(steps)
        step = steps[inside].max() * over / (over + 1) / quantile(np.delete(steps, inside), 0.95)
        if step <= _EASED:
            return replace(cut, slow=over, step=float(step), score=max(float(step), *others))
    return cut


def best_on_frames(
    candidate: LoopCandidate,
    strip: ThumbnailStrip,
    fetch: Callable[[int], Frame],
    rate: Fraction,
    *,
    stretch: Shot | None = None,
    fixed: bool = False,
) -> LoopCandidate:
    """Measure a candidate on its frames, and return the best of its unblended, plain and moved forms.

    Parameters
    ----------
    fetch : callable
        Returns the keyed frame i.
    stretch : Shot, optional
        The unbroken part of the clip in which the join may be shifted to where moved blends work best;
        without it, and unless `fixed`, only the candidate's own blend is tried.
    fixed : bool
        Whether first and last frame must stay what they are.
    """
    frames, lag = PairedFrames(fetch, candidate.frames), candidate.frames
    parts = PartMotion(strip, candidate.first, candidate.last)
    middle = candidate.first - candidate.blend // 2
    best, least = None, np.inf
    lengths = _even(MOVED_S, rate) if fixed or stretch is not None else set()
    for blend in sorted({0, candidate.blend, *lengths}):
        begins = {candidate.first - blend if fixed or blend == candidate.blend else middle - blend // 2}
        if stretch is not None and blend:
            calm = calmest(
                stretch, middle - blend // 2 - stretch.start, lag, blend, max(2, round(_SHIFT_S * rate))
            )
            begins.add(calm + stretch.start if calm >= 0 else -1)
        methods: tuple[Method, ...] = ("crossfade", "flow") if blend else ("cut",)
        for begin in begins:
            if begin < 0 or begin + lag + blend > len(strip) or 2 * blend >= lag:
                continue
            usual = replace(usual_of(strip, begin + blend, begin + lag - 1), parts=parts)
            for method in methods:
                for measured in frames.measure(begin, blend, method, usual):
                    one = measured if blend else eased(measured, strip, usual)
                    if rank(one, rate) >= least:
                        break
                else:
                    best, least = one, rank(one, rate)
        enough = UNSEEN if blend < _LONG_S * rate else GOOD
        if best is not None and best.score <= (GOOD if candidate.exact else enough):
            break  # a longer blend would hide nothing more
    best = best or candidate
    return replace(best, exact=candidate.exact and not best.blend)


def rank_on_frames(
    found: Iterable[LoopCandidate],
    strip: ThumbnailStrip,
    fetch: Callable[[int], Frame],
    rate: Fraction,
    stretches: Sequence[Shot],
) -> list[LoopCandidate]:
    """Measure candidates, best first, on their frames, and order them anew; `stretches` hold them."""
    seen: list[LoopCandidate] = []
    for place, candidate in enumerate(found):
        # motion takes time: it is computed only where it could still give the best join
        ideal = rank(
            replace(candidate, blend=0, method="cut", score=0.0, jerk=0.0, double=0.0, dip=1.0), rate
        )
        hopeless = any(rank(other, rate) <= ideal for other in seen)
        inside = next(s for s in stretches if s.start <= candidate.first < s.start + len(s.points))
        one = replace(candidate, first=candidate.first - candidate.blend // 2, blend=0, method="cut")
        one = one if hopeless and one.first + one.frames < len(strip) else candidate
        where = None if hopeless or place >= _THOROUGH else inside
        seen.append(with_turn(best_on_frames(one, strip, fetch, rate, stretch=where), inside, rate))
    return sorted(seen, key=lambda c: rank(c, rate))


def join_at(
    first: int, last: int, strip: ThumbnailStrip, fetch: Callable[[int], Frame], rate: Fraction
) -> LoopCandidate:
    """Return the best join for a loop of exactly the frames `first` to `last`, three or more in the strip.

    `strip`, `fetch` and `rate` are as for `search`.
    """
    asked = LoopCandidate(first, last, 0, "cut", float("inf"))
    return best_on_frames(asked, strip, fetch, rate, fixed=True)
