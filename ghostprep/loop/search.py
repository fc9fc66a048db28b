"""Search a clip for the joins that show least."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from fractions import Fraction
from typing import Final

import numpy as np

from ghostprep.arrays import Frame
from ghostprep.loop.breaks import find_breaks
from ghostprep.loop.candidate import SMALL_JUMP, LoopCandidate
from ghostprep.loop.measure import Usual, candidate_of, measure_points, with_turn
from ghostprep.loop.pairs import nearest_pairs, windows
from ghostprep.loop.period import exact_period
from ghostprep.loop.points import Shot, points_of
from ghostprep.loop.refine import ENOUGH_S, best_on_points, join_at, rank, rank_on_frames
from ghostprep.loop.strip import ThumbnailStrip
from ghostprep.transfer import STILL

SHORTEST_S: Final = 2.0
LONGEST_S: Final = 120.0
"""The loops that are looked for where no length is asked for."""
TURN_S: Final = 0.2
"""The shortest exact period that counts when no length is asked for."""
_WINDOWS_S: Final = (0.0, 0.4, 0.8)
"""Windows that are compared: what is alike for a moment, and for as long as a blend takes."""
_SHORTLIST: Final = 64
"""Pairs that are looked at closely."""
_MOST: Final = 24
"""Loops that are returned; those that a builder is told differ more, and are picked from these."""


def search(
    strip: ThumbnailStrip,
    rate: Fraction,
    *,
    length_s: tuple[float, float] | None = None,
    fetch: Callable[[int], Frame] | None = None,
) -> list[LoopCandidate]:
    """Find the stretches of a clip that loop best.

    Parameters
    ----------
    strip : ThumbnailStrip
        The whole clip's figure.
    length_s : (float, float), optional
        Shortest and longest loop, in seconds. Default 2 to 120, where longer is preferred up to 6. In a clip
        shorter than 8 s a loop may be shorter, if nobody sees its join, and an exact period as short as 0.2.
    fetch : callable, optional
        ``fetch(i)`` returns frame i as it was keyed for the strip, about 160 pixels wide. With it, the best
        are ranked again on the frames themselves, and motion-compensated blends are tried; without it, plain
        ones only.

    Returns
    -------
    list of LoopCandidate
        Best first; empty if the clip is too short, or short and without a smooth loop. No loop goes across
        a hard cut. A clip of up to 6 s that loops as a whole comes first: it was drawn, or filmed, to repeat.

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
    lags = lag_range(total, rate, length_s)
    points, light = points_of(strip)
    breaks = find_breaks(points, light)
    turns = lags if length_s is not None else (max(2, round(TURN_S * rate)), lags[1])
    found: list[LoopCandidate] = []
    stretches: list[Shot] = []
    for at_flashes in (True, False):
        stretches = [Shot(a, points[a:b]) for a, b in breaks.stretches(total, flashes=at_flashes)]
        found = _periodic(stretches, turns) or _alike(stretches, rate, lags)
        if found or not breaks.flashes:
            break
    whole = None
    if fetch is not None:
        found = rank_on_frames(found, strip, fetch, rate, stretches)
        repeats = bool(found) and found[0].exact and found[0].smooth
        if len(stretches) == 1 and len(stretches[0].points) == total <= ENOUGH_S * rate and not repeats:
            whole = with_turn(join_at(0, total - 1, strip, fetch, rate), stretches[0], rate)
    return found if length_s is not None else _worth_repeating(found, whole, rate)


def _worth_repeating(
    found: Iterable[LoopCandidate], whole: LoopCandidate | None, rate: Fraction
) -> list[LoopCandidate]:
    """Return the loops without those that would show their jump every moment, and the whole clip first.

    `whole` is the whole clip as a loop, where it may be one.
    """
    kept = [one for one in found if one.smooth or one.frames >= round(SHORTEST_S * rate)]
    if whole is None or whole.score > SMALL_JUMP:
        return kept
    if whole.smooth:
        return [whole, *(one for one in kept if one.name != whole.name)]
    return kept or [whole]


def lag_range(count: int, rate: Fraction, length_s: tuple[float, float] | None) -> tuple[int, int]:
    """Return least and greatest loop length in frames; the greatest is the lesser in too short a clip."""
    low, high = length_s if length_s is not None else (SHORTEST_S, LONGEST_S)
    if not 0 < low <= high:
        raise ValueError(f"a length from {low} to {high} s; both must be above 0 and in order")
    least, most = round(low * rate), round(high * rate)  # the nearest whole number of frames counts
    if length_s is None:
        least = min(least, max(2, count // 4))
    return max(2, least), min(most, count)


def _periodic(stretches: Iterable[Shot], lags: tuple[int, int]) -> list[LoopCandidate]:
    """Return loops of exactly one period, begun where least moves; the shortest period first."""
    found: list[LoopCandidate] = []
    for stretch in stretches:
        points, steps = stretch.points, stretch.steps
        period = exact_period(points, steps, *lags)
        if period is None:
            continue
        places = np.arange(0, len(points) - period + 1)
        across = np.linalg.norm(points[places] - points[places + period - 1], axis=1)
        taken: list[int] = []
        for at in places[np.argsort(across, kind="stable")].tolist():
            if all(abs(at - other) > period // 8 for other in taken):
                taken.append(at)
                usual = Usual.of(steps[at : at + period - 1], stretch.jerks[at : at + period - 2])
                one = measure_points(points, at, period, 0, usual)
                found.append(candidate_of(at + stretch.start, period, 0, "cut", one, exact=True))
            if len(taken) == 8:
                break
    # turns of one motion are equally good but for rounding, which differs from machine to machine
    return sorted(found, key=lambda c: (c.frames, round(c.score, 5), c.first))[:_MOST]


def _alike(stretches: Sequence[Shot], rate: Fraction, lags: tuple[int, int]) -> list[LoopCandidate]:
    """Return loops between moments that are alike, best first."""
    found: dict[tuple[int, int], LoopCandidate] = {}
    tile = max(2, round(0.12 * rate))
    for seconds in _WINDOWS_S:
        for stretch, middle, lag in _pairs(stretches, max(2, round(seconds * rate)), lags, tile):
            best = best_on_points(stretch, middle, lag, rate, lags)
            if best is not None and stretch.moves(best.first, best.last):
                found[best.first, best.last] = best
    return _apart(sorted(found.values(), key=lambda c: rank(c, rate)), rate)


def _pairs(
    stretches: Iterable[Shot], length: int, lags: tuple[int, int], tile: int
) -> list[tuple[Shot, int, int]]:
    """Return stretch, middle frame and lag of the windows of `length` frames that are most alike."""
    pairs: list[tuple[float, Shot, int, int]] = []
    for stretch in stretches:
        if len(stretch.padded) < length + lags[0]:
            continue
        unit = max(float(np.median(stretch.steps)), STILL) ** 2
        rows = windows(stretch.padded, length)
        middles = np.arange(len(rows)) - 1 + length // 2
        moved = stretch.moved[middles.clip(0, len(stretch.points) - 1)]
        for distance, at, lag in nearest_pairs(rows, lags, tile, _SHORTLIST, moved):
            pairs.append((distance / unit, stretch, int(middles[at]), lag))
    pairs.sort(key=lambda pair: pair[0])
    return [pair[1:] for pair in pairs[:_SHORTLIST]]


def _apart(ranked: Iterable[LoopCandidate], rate: Fraction) -> list[LoopCandidate]:
    """Keep candidates that are not nearly the same as a better one."""
    near = max(1, round(0.25 * rate))
    kept: list[LoopCandidate] = []
    for one in ranked:
        if all(abs(one.first - k.first) > near or abs(one.frames - k.frames) > near // 3 for k in kept):
            kept.append(one)
        if len(kept) == _MOST:
            break
    return kept
