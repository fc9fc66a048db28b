"""Pairs of moments that are alike: those of brute force, in little memory."""

import tracemalloc

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ghostprep.loop.pairs import nearest_pairs, windows


@settings(deadline=None, max_examples=40)
@given(
    n=st.integers(6, 60),
    d=st.integers(1, 4),
    low=st.integers(1, 10),
    wide=st.integers(0, 60),
    seed=st.integers(0, 99),
)
def test_the_nearest_pairs_are_those_of_brute_force(n: int, d: int, low: int, wide: int, seed: int) -> None:
    rows = np.random.default_rng(seed).standard_normal((n, d)).astype(np.float32)
    found = nearest_pairs(rows, (low, low + wide), 1, 10_000, np.zeros(len(rows)))
    brute = {
        (i, j - i): float(np.sum((rows[i] - rows[j]) ** 2))
        for i in range(n)
        for j in range(i + low, min(n, i + low + wide + 1))
    }
    assert {(at, lag) for _, at, lag in found} == set(brute)
    for value, at, lag in found:
        assert value == pytest.approx(brute[at, lag], abs=1e-4)
    assert [v for v, _, _ in found] == sorted(v for v, _, _ in found)


@pytest.mark.parametrize("cells", [16, 400, 4000])
def test_pairs_are_the_same_however_many_are_held_at_a_time(
    monkeypatch: pytest.MonkeyPatch, cells: int
) -> None:
    rows = np.random.default_rng(3).standard_normal((90, 4)).astype(np.float32)
    whole = nearest_pairs(rows, (5, 40), 4, 20, np.zeros(len(rows)))
    monkeypatch.setattr("ghostprep.loop.pairs._CELLS", cells)
    assert [(at, lag) for _, at, lag in nearest_pairs(rows, (5, 40), 4, 20, np.zeros(len(rows)))] == [
        pair[1:] for pair in whole
    ]


@pytest.mark.parametrize(("budget", "stride"), [(10_000, 1), (2900, 2), (1000, 4)])
def test_beyond_the_budget_the_first_moment_is_taken_on_a_grid(
    monkeypatch: pytest.MonkeyPatch, budget: int, stride: int
) -> None:
    """85 starts of 36 lags are 3060 distances: within 2900 every second start, within 1000 every fourth."""
    rows = np.random.default_rng(3).standard_normal((90, 4)).astype(np.float32)
    monkeypatch.setattr("ghostprep.loop.pairs._BUDGET", budget)
    found = nearest_pairs(rows, (5, 40), 1, 10_000, np.zeros(len(rows)))
    assert {at for _, at, _ in found} == set(range(0, 85, stride))
    for value, at, lag in found:
        assert value == pytest.approx(float(np.sum((rows[at] - rows[at + lag]) ** 2)), abs=1e-4)


def test_two_windows_are_as_far_apart_as_their_frames_when_both_move_evenly() -> None:
    rng = np.random.default_rng(0)
    a, b = (np.outer(np.arange(9), rng.standard_normal(5)) + rng.standard_normal(5) for _ in range(2))
    points = np.concatenate([a, b]).astype(np.float32)
    rows = windows(points, 9)
    apart = float(np.sum((rows[0] - rows[9]) ** 2))
    assert apart == pytest.approx(float(np.mean(np.sum((a - b) ** 2, axis=1))), rel=1e-4)


def test_the_whole_matrix_of_a_long_clip_is_never_held() -> None:
    rows = np.random.default_rng(0).standard_normal((20_000, 24)).astype(np.float32)
    tracemalloc.start()
    found = nearest_pairs(rows, (50, 2500), 3, 64, np.zeros(len(rows)))
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert len(found) == 64
    assert peak < 80e6  # all these distances are 190 MB, the whole matrix 1.6 GB
