"""Ghosts that appear one after another."""

import itertools
from fractions import Fraction
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ghostprep.errors import InputError
from ghostprep.loop import Schedule, plan_appearances
from ghostprep.prepare.appear import Scheduled

RATES = [Fraction(24000, 1001), Fraction(25), Fraction(30000, 1001), Fraction(60)]


@settings(deadline=None, max_examples=120)
@given(
    lengths=st.lists(st.integers(1, 200), min_size=1, max_size=5),
    rate=st.sampled_from(RATES),
    low=st.floats(1, 20),
    spread=st.floats(0, 30),
    total=st.floats(60, 600),
    seed=st.integers(0, 2**32),
)
def test_every_schedule_keeps_its_promises(
    lengths: list[int], rate: Fraction, low: float, spread: float, total: float, seed: int
) -> None:
    every = (low, low + spread + float(max(lengths) / rate) + 1)
    plan = plan_appearances(lengths, rate, every_s=every, total_s=total, seed=seed)
    ghosts = [a.ghost for a in plan.appearances]
    if len(lengths) > 1:
        assert all(a != b for a, b in itertools.pairwise([*ghosts, ghosts[0]]))
    assert [a.stop - a.start for a in plan.appearances] == [lengths[g] for g in ghosts]
    starts = [a.start for a in plan.appearances]
    following = [*starts[1:], starts[0] + plan.frames]
    gaps = [b - a.stop for a, b in zip(plan.appearances, following, strict=True)]
    assert min(gaps) >= round(Fraction(1, 2) * rate)
    between = np.subtract(following, starts)
    assert between.min() >= round(Fraction(low).limit_denominator(10**6) * rate)
    assert between.max() <= round(Fraction(every[1]).limit_denominator(10**6) * rate)
    assert plan.frames <= total * rate + 1e-3
    assert len(list(plan)) == plan.frames
    assert plan == plan_appearances(lengths, rate, every_s=every, total_s=total, seed=seed)
    # the file starts over in the dark
    assert gaps[-1] <= 1 or (starts[0] > 0 and plan.appearances[-1].stop < plan.frames)


def test_a_range_fills_the_file_exactly_and_unevenly_and_all_appear() -> None:
    plan = plan_appearances([50, 75, 100], Fraction(25), every_s=(6, 20), total_s=600, seed=7)
    assert plan.frames == 15000
    starts = np.diff([a.start for a in plan.appearances])
    assert len(set(starts.tolist())) > 0.8 * len(starts)
    shown = np.bincount([a.ghost for a in plan.appearances])
    assert shown.min() >= 0.6 * shown.max()
    assert plan != plan_appearances([50, 75, 100], Fraction(25), every_s=(6, 20), total_s=600, seed=8)


def test_a_fixed_interval_is_a_rhythm_and_leaves_no_piece() -> None:
    plan = plan_appearances([50], Fraction(25), every_s=(10, 10), total_s=65)
    assert plan.frames == 1500
    assert set(np.diff([a.start for a in plan.appearances]).tolist()) == {250}


def test_between_the_ghosts_all_is_black_exactly() -> None:
    plan = plan_appearances([30, 40], Fraction(25), every_s=(3, 5), total_s=20, seed=1)
    ghosts: Any = [
        SimpleNamespace(shown=[np.full((2, 2, 3), 1 + 100 * ghost + k, np.uint8) for k in range(length)])
        for ghost, length in enumerate((30, 40))
    ]
    frames = list(Scheduled(plan, ghosts, (2, 2)))
    values = [int(f.max()) for f in frames]
    expected = [0 if w is None else 1 + 100 * w[0] + w[1] for w in plan]
    assert values == expected
    assert len(frames) == 500
    assert values.count(0) == plan.frames - sum(a.stop - a.start for a in plan.appearances)


def test_what_cannot_be_is_said() -> None:
    with pytest.raises(InputError, match=r"ghost 2 lasts 8\.0 s, which does not fit every 6 s"):
        plan_appearances([50, 200], Fraction(25), every_s=(4, 6), total_s=60)
    with pytest.raises(InputError, match=r"--repeat-for: is 5 s, the ghosts need 10\.0 s"):
        plan_appearances([50, 50], Fraction(25), every_s=(5, 9), total_s=5)
    with pytest.raises(InputError, match="--appear: is 9-5, its MIN must be no more"):
        plan_appearances([50], Fraction(25), every_s=(9, 5), total_s=60)


def test_overlapping_appearances_are_refused() -> None:
    plan = plan_appearances([50], Fraction(25), every_s=(10, 10), total_s=65)
    with pytest.raises(ValueError, match="overlaps"):
        Schedule(plan.appearances[:1] * 2, plan.frames, plan.rate, 0)


@pytest.mark.parametrize(
    ("lengths", "total", "needed"),
    [([50], 1.9, "2.5"), ([50, 75], 5.9, "6.0"), ([50, 75, 100], 5.9, "6.0")],
)
def test_how_long_a_file_must_be_at_least(lengths: list[int], total: float, needed: str) -> None:
    """At 25/s with half a second of dark: 2 + .5 s for one ghost; for two or more the two shortest in turn.

    2.5 + 3.5 = 6.0 s. A file of just that length can be made.
    """
    every = (0.1, 10.0)
    with pytest.raises(InputError, match=rf"the ghosts need {needed} s"):
        plan_appearances(lengths, Fraction(25), every_s=every, total_s=total)
    assert plan_appearances(lengths, Fraction(25), every_s=every, total_s=float(needed)).frames


def test_the_number_of_appearances_is_that_of_the_mean_interval() -> None:
    """Ghosts of 1 and 9 s every 2 to 20 s: around (2 + 20) / 2 = 11 s apart, 120 s hold about eleven."""
    plan = plan_appearances([25, 25, 225], Fraction(25), every_s=(2, 20), total_s=120, seed=3)
    assert 10 <= len(plan.appearances) <= 12
