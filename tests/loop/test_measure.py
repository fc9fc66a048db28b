"""Joins measured and searched for, against the definitions worked out the slow way."""

from __future__ import annotations

import itertools
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from ghostprep.loop.candidate import LoopCandidate
from ghostprep.loop.measure import BlendCost, MeasuredPair, Usual, measure_frames, measure_points
from ghostprep.loop.points import Shot
from ghostprep.loop.refine import _MISSED, _even, _nearest, calmest, rank
from ghostprep.loop.strip import sharpness
from ghostprep.transfer import codes_to_light, luminance

RATE = Fraction(25)


def walk(count: int, seed: int, dimensions: int = 3) -> np.ndarray:
    return np.random.default_rng(seed).normal(0, 1, (count, dimensions)).cumsum(axis=0).astype(np.float32)


def apart(a: np.ndarray, b: np.ndarray) -> float:
    return float(np.linalg.norm(np.asarray(a, np.float64) - b))


SEARCHED = {
    "count": st.integers(6, 40),
    "around": st.integers(-3, 40),
    "lag": st.integers(2, 25),
    "reach": st.integers(0, 9),
    "seed": st.integers(0, 99),
}


@settings(deadline=None, max_examples=150)
@given(blend=st.integers(1, 8), **SEARCHED)
def test_the_nearest_windows_are_those_of_brute_force(
    count: int, around: int, lag: int, reach: int, seed: int, blend: int
) -> None:
    p = walk(count, seed)
    begins = [b for b in range(max(0, around - reach), around + reach + 1) if b + lag + blend <= count]
    cost, begin = _nearest(Shot(0, p), around, lag, blend, reach)
    if not begins:
        assert begin == -1
        return
    brute = {b: np.mean([apart(p[b + lag + i], p[b + i]) ** 2 for i in range(blend)]) for b in begins}
    assert begin in brute
    assert cost == pytest.approx(brute[begin], rel=1e-4)
    assert cost == pytest.approx(min(brute.values()), rel=1e-4)


@settings(deadline=None, max_examples=80)
@given(**SEARCHED)
def test_a_cut_lies_where_the_frames_on_both_its_sides_are_alike(
    count: int, around: int, lag: int, reach: int, seed: int
) -> None:
    p = walk(count, seed)
    # before the first frame and after the last the motion is thought on
    at = {-1: 2 * p[0] - p[1], count: 2 * p[-1] - p[-2]} | dict(enumerate(p))
    begins = [b for b in range(max(0, around - reach), around + reach + 1) if b + lag <= count]
    cost, begin = _nearest(Shot(0, p), around, lag, 0, reach)
    if not begins:
        assert begin == -1
        return
    brute = {b: np.mean([apart(at[b + lag + i], at[b + i]) ** 2 for i in (-1, 0)]) for b in begins}
    assert cost == pytest.approx(brute[begin], rel=1e-4)
    assert cost == pytest.approx(min(brute.values()), rel=1e-4)


@settings(deadline=None, max_examples=150)
@given(blend=st.integers(1, 8), **SEARCHED)
def test_the_calmest_place_is_that_of_brute_force(
    count: int, around: int, lag: int, reach: int, seed: int, blend: int
) -> None:
    """The motion there, the windows' distance spread over the blend, and the share of it that is missed."""
    p = walk(count, seed)
    begins = [b for b in range(max(0, around - reach), around + reach + 1) if b + lag + blend <= count]
    begin = calmest(Shot(0, p), around, lag, blend, reach)
    if not begins:
        assert begin == -1
        return
    step = {
        k: apart(p[min(max(k, 1), count - 1)], p[min(max(k, 1), count - 1) - 1]) for k in range(count + 1)
    }

    def cost(b: int) -> float:
        windows = np.mean([apart(p[b + lag + i], p[b + i]) for i in range(blend)])
        # step k leads from frame k - 1 to frame k; a blend has one more than frames
        motion = max(max(step[b + i], step[b + lag + i]) for i in range(blend + 1))
        return float(motion + windows * (1 / (blend + 1) + _MISSED))

    assert cost(begin) == pytest.approx(min(map(cost, begins)), rel=1e-4)


@settings(deadline=None, max_examples=100)
@given(count=st.integers(14, 40), lag=st.integers(5, 20), blend=st.integers(0, 5), seed=st.integers(0, 99))
def test_a_join_on_points_is_what_its_path_says(count: int, lag: int, blend: int, seed: int) -> None:
    """The loop's last two frames, the mixes, its first two: its longest step and sharpest turn."""
    p = walk(count, seed).astype(np.float64)
    begin = 1
    assume(begin + lag + blend <= count)
    usual = Usual(2.0, 1.5, 3.0, 0.1)
    path = [p[begin + lag - 2], p[begin + lag - 1]]
    doubles = [0.0]
    for i in range(blend):
        share = (i + 1) / (blend + 1)
        path.append((1 - share) * p[begin + lag + i] + share * p[begin + i])
        doubles.append(4 * share * (1 - share) * apart(p[begin + lag + i], p[begin + i]))
    path += [p[begin + blend], p[begin + blend + 1]]
    speed = np.diff(path, axis=0)
    found = measure_points(p.astype(np.float32), begin, lag, blend, usual)
    # the first and the last of these steps are the clip's own
    assert found.step == pytest.approx(max(np.linalg.norm(v) for v in speed[1:-1]) / 2.0, rel=1e-4)
    turns = [np.linalg.norm(b - a) for a, b in itertools.pairwise(speed)]
    assert found.jerk == pytest.approx(max(turns) / 3.0, rel=1e-4)
    before, *inside, after = (float(np.linalg.norm(v)) for v in speed)
    assert found.stop == pytest.approx(max(min(before, after) - min(inside) - 0.1, 0) / 2.0, abs=1e-4)
    assert found.double == pytest.approx(max(doubles) / 1.5, rel=1e-4, abs=1e-6)
    assert (found.dip, found.ripple) == (1.0, 0.0)


@pytest.mark.parametrize("blend", [0, 3])
def test_a_join_on_frames_is_what_its_pictures_say(blend: int) -> None:
    rng = np.random.default_rng(4)
    codes = [rng.integers(0, 256, (12, 16, 3), np.uint8) for _ in range(4 + 2 * blend)]
    before, after = codes[:2], codes[2:4]
    pairs = list(zip(codes[4 : 4 + blend], codes[4 + blend :], strict=True))
    usual = Usual(0.3, 0.25, 0.5, 0.01)

    def grey(frame: np.ndarray) -> np.ndarray:
        return luminance(codes_to_light(frame)).astype(np.float64)

    def rms(x: np.ndarray) -> float:
        return float(np.sqrt(np.mean(np.square(x))))

    shares = [(i + 1) / (blend + 1) for i in range(blend)]
    mixes = [(1 - w) * grey(a) + w * grey(b) for w, (a, b) in zip(shares, pairs, strict=True)]
    path = [*map(grey, before), *mixes, *map(grey, after)]
    speed = np.diff(path, axis=0)
    *known, found = measure_frames(
        lambda: [luminance(codes_to_light(f)) for f in (*before, *after)],
        lambda i: MeasuredPair(*pairs[i]),
        blend,
        "crossfade" if blend else "cut",
        usual,
    )
    assert len(known) == blend
    for one, more in itertools.pairwise([*known, found]):
        assert one.score <= more.score
        assert one.double <= more.double
        assert one.dip >= more.dip
    assert found.step == pytest.approx(max(map(rms, speed[1:-1])) / 0.3, rel=1e-4)
    assert found.jerk == pytest.approx(max(map(rms, np.diff(speed, axis=0))) / 0.5, rel=1e-4)
    if not blend:
        assert (found.double, found.dip, found.ripple) == (0.0, 1.0, 0.0)
        return
    doubles = [4 * w * (1 - w) * rms(grey(b) - grey(a)) for w, (a, b) in zip(shares, pairs, strict=True)]
    assert found.double == pytest.approx(max(doubles) / 0.25, rel=1e-4)
    sharp = [
        sharpness(mix.astype(np.float32))
        / ((1 - w) * sharpness(grey(a).astype(np.float32)) + w * sharpness(grey(b).astype(np.float32)))
        for w, mix, (a, b) in zip(shares, mixes, pairs, strict=True)
    ]
    assert found.dip == pytest.approx(min(sharp), rel=1e-4)
    # light adds up, so a crossfade keeps it
    assert found.ripple == pytest.approx(0, abs=1e-5)


def test_the_own_motion_is_the_95th_percentile_and_the_median() -> None:
    """Of 1 to 101: 96 and 51; of the turns 2 to 202: 192. Nothing counts as code 1 (IEC 61966-2-1)."""
    nothing = 1 / 255 / 12.92
    steps = np.random.default_rng(0).permutation(np.arange(1, 102)).astype(np.float32)
    stops = [min(a, c) - b for a, b, c in zip(steps, steps[1:], steps[2:], strict=False)]
    most = pytest.approx(np.quantile(stops, 0.95))
    assert Usual.of(steps, 2 * steps) == Usual(96.0, 51.0, 192.0, most)
    assert Usual.of(np.zeros(9, np.float32), np.zeros(8, np.float32)) == Usual(nothing, nothing, nothing, 0.0)
    assert Usual.of(np.zeros(0, np.float32), np.zeros(0, np.float32)) == Usual(nothing, nothing, nothing, 0.0)
    assert Usual.of(steps[:1], np.zeros(0, np.float32)).jerk == nothing


@pytest.mark.parametrize(
    ("measures", "score"),
    [
        (BlendCost(0.7, 0.0), 0.7),
        (BlendCost(0.1, 3.0), 1.5),  # three of the usual changes of speed, of two that may be
        (BlendCost(0.1, 0.1, double=0.9), 0.9),
        (BlendCost(0.1, 0.1, double=np.e**2), 2.0),  # wider, it grows with the logarithm: 1 + 2 / 2
        (BlendCost(0.1, 0.1, dip=0.7), 1.5),  # .3 softer, of .2
        (BlendCost(0.1, 0.1, ripple=0.03), 1.5),  # 3 % of the light, of 2 %
    ],
)
def test_the_worst_of_all_is_the_score(measures: BlendCost, score: float) -> None:
    assert measures.score == pytest.approx(score)


def one(
    first: int = 0, frames: int = 200, blend: int = 0, score: float = 0.5, **more: float
) -> LoopCandidate:
    return LoopCandidate(first, first + frames - 1, blend, "crossfade" if blend else "cut", score, **more)


@pytest.mark.parametrize(
    ("better", "worse"),
    [
        (one(score=0.9), one(score=1.0)),
        (one(frames=150), one(frames=100)),  # 6 s before 4 s
        (one(), one(blend=10)),
        (one(blend=5), one(blend=10)),
        (one(dip=1.0), one(dip=0.9)),
        (one(double=0.2), one(double=0.6)),
        (one(jerk=0.2), one(jerk=1.0)),
        (one(score=0.1), one(score=0.7)),  # among those that nobody sees, too
        (one(frames=50, score=0.7), one(frames=200, score=1.3)),  # what is seen comes before length
    ],
)
def test_what_makes_a_join_the_better_one(better: LoopCandidate, worse: LoopCandidate) -> None:
    assert rank(better, RATE) < rank(worse, RATE)


def test_beyond_six_seconds_no_length_is_preferred() -> None:
    assert rank(one(frames=150), RATE) == rank(one(frames=400), RATE)


def test_blends_have_an_even_number_of_frames() -> None:
    assert _even([0.0, 0.1, 0.2, 0.4], Fraction(25)) == {0, 2, 4, 10}
    assert _even([0.1], Fraction(60)) == {6}
