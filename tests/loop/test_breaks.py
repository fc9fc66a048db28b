"""Cuts and flashes on points laid out by hand: a walk of even steps, and what breaks it."""

from __future__ import annotations

import numpy as np
import pytest

from ghostprep.loop.breaks import _CHANGE, _OUTSTANDING, Breaks, find_breaks

FAR = 100.0
"""As far from black as all frames are here."""


def walk(steps: list[float]) -> np.ndarray:
    """Points on a line, so far apart; what goes back has a negative step."""
    x = np.concatenate([[0.0], np.cumsum(steps)])
    return np.stack([x, np.zeros_like(x)], axis=1).astype(np.float32)


def broken(steps: list[float], light: float = FAR) -> Breaks:
    points = walk(steps)
    return find_breaks(points, np.full(len(points), light, np.float32))


def with_step(size: float, at: int = 30, count: int = 60) -> list[float]:
    steps = [1.0] * count
    steps[at] = size
    return steps


@pytest.mark.parametrize(("share", "cuts"), [(0.98, ()), (1.02, (31,))])
def test_a_cut_is_an_outstanding_step(share: float, cuts: tuple[int, ...]) -> None:
    """Step 30 leads from frame 30 to 31: that is the new shot's first."""
    assert broken(with_step(share * _OUTSTANDING), light=1.0) == Breaks(cuts, ())


@pytest.mark.parametrize(("share", "cuts"), [(0.98, ()), (1.02, (31,))])
def test_a_cut_changes_much_of_the_picture(share: float, cuts: tuple[int, ...]) -> None:
    size = 3 * _OUTSTANDING
    assert broken(with_step(size), light=size / (_CHANGE * share)).cuts == cuts


def test_a_flash_goes_there_and_back() -> None:
    steps = [1.0] * 60
    steps[30], steps[31] = 50.0, -49.0
    assert broken(steps, light=1.0) == Breaks((), (31,))
    # half of the way back is no way back: two cuts
    steps[31] = -24.0
    assert broken(steps, light=1.0) == Breaks((31, 32), ())


def test_many_large_steps_in_a_row_are_a_movement() -> None:
    steps = [1.0] * 60
    steps[30:33] = [50.0, 50.0, 50.0]
    assert broken(steps, light=1.0) == Breaks((), ())
    apart = [1.0] * 60
    apart[20] = apart[40] = 50.0
    assert broken(apart, light=1.0) == Breaks((21, 41), ())


def test_three_frames_have_no_break() -> None:
    assert broken([1.0, 500.0], light=1.0) == Breaks((), ())


def test_stretches_are_what_lies_between() -> None:
    breaks = Breaks((10, 40), (20,))
    assert breaks.stretches(50, flashes=False) == [(0, 10), (10, 40), (40, 50)]
    # the flash itself belongs to none
    assert breaks.stretches(50, flashes=True) == [(0, 10), (10, 20), (21, 40), (40, 50)]
    # a single frame is no stretch
    assert Breaks((1, 49), ()).stretches(50, flashes=False) == [(1, 49)]
    # two are
    assert Breaks((2, 48), ()).stretches(50, flashes=False) == [(0, 2), (2, 48), (48, 50)]


@pytest.mark.parametrize(("alike", "cuts"), [(0.0, (31,)), (0.5, (31,)), (0.92, (31,)), (0.95, ())])
def test_pictures_that_have_nine_tenths_in_common_are_two_shots_all_the_same(
    alike: float, cuts: tuple[int, ...]
) -> None:
    """Two pictures as bright as each other, whose product is `alike` of their squares."""
    shots = np.array([[1.0, 0.0], [alike, np.sqrt(1 - alike**2)]])
    points = np.repeat(shots, 31, axis=0) * FAR
    still = np.column_stack([points, np.linspace(0, 1, len(points))]).astype(np.float32)
    assert find_breaks(still, np.full(len(still), FAR, np.float32)).cuts == cuts
