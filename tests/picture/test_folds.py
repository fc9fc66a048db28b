"""What the folds of a cloth tell: sums and shares with known answers, each limit from both sides."""

from __future__ import annotations

import numpy as np
import pytest

from ghostprep.picture.key.hue import HueAxis
from ghostprep.picture.learn.folds import Folds, add_folds, no_folds, read_folds

GREEN = np.float32([40, 160, 70])
RED = np.float32([0.9, 0.3, np.sqrt(0.1)])
"""A hue, of length 1."""
SIZE = (120, 160)


def told(*shares: float, clear: float = 0.97) -> Folds:
    return Folds(RED, shares, clear)


@pytest.mark.parametrize(
    ("folds", "veil"),
    [
        (told(0.4, 0.45, 0.5), True), (told(0.4, 0.45, 0.5, clear=0.93), False),
        (told(0.3, 0.4, 0.48), True), (told(0.3, 0.4, 0.52), False),
        (told(0.22, 0.25, 0.3), True), (told(0.18, 0.25, 0.3), False),
        (told(0.8, 0.85, 0.94), True), (told(0.8, 0.85, 0.96), False),
    ],
)  # fmt: skip
def test_a_veil_is_told_by_folds_that_agree_on_a_share(folds: Folds, veil: bool) -> None:
    assert folds.tell_a_veil is veil
    assert folds.share == folds.shares[1]


@pytest.mark.parametrize(
    ("folds", "solid"),
    [(told(0, 0.1, 0.18), True), (told(0, 0.1, 0.22), False), (told(0, 0.1, 0.18, clear=0.93), False)],
)
def test_solid_cloth_is_told_by_folds_that_show_nothing_of_the_backing(folds: Folds, solid: bool) -> None:
    assert folds.tell_solid is solid


def response(period: float) -> list[float]:
    """By how much of their height folds of a period, pixels, are seen by each size."""
    squares = no_folds()
    wave = 100 + 10 * np.sin(np.arange(SIZE[1]) * 2 * np.pi / period)
    light = np.tile(wave[None, :, None] * RED, (SIZE[0], 1, 1)).astype(np.float32)
    all_of_it = np.ones(SIZE, np.uint8)
    inside = np.zeros(SIZE, np.uint8)
    inside[:, 45:-45] = 1
    add_folds(squares, light, all_of_it, inside)
    # along their hue alone
    for one in squares:
        assert one == pytest.approx(
            np.trace(one) * np.outer(RED, RED), abs=1e-2 * np.trace(squares[0]) + 1e-3
        )
    return [float(np.sqrt(2 * np.trace(one) / inside.sum()) / 10) for one in squares]


@pytest.mark.parametrize(("period", "size"), [(12, 0), (26, 1), (52, 2)])
def test_each_size_sees_folds_a_little_wider_than_itself(period: float, size: int) -> None:
    """What is four times as wide is the cloth's own light."""
    seen = response(period)
    assert max(seen) == seen[size]
    assert seen[size] == pytest.approx(0.9, abs=0.1)
    if size == 0:
        assert seen[2] < 0.25
    if size == 2:
        assert seen[0] < 0.4


def test_the_cloths_end_is_no_fold() -> None:
    squares = no_folds()
    light = np.tile(GREEN, (*SIZE, 1))
    light[30:90, 40:120] = 90 * RED
    cloth = np.zeros(SIZE, np.uint8)
    cloth[30:90, 40:120] = 1
    add_folds(squares, light, cloth, cloth)
    assert max(float(np.abs(one).max()) for one in squares) < 1e-3
    add_folds(squares, light, 0 * cloth, cloth)
    assert not any((one > 1e-3).any() for one in squares)


def read(share: float, lit: float = 90.0, grain: float = 0.0, axis: HueAxis | None = None) -> Folds:
    """What is read of folds along red, with grain of all hues, in a cloth that shows a share of green."""
    fold = np.outer(RED, RED) + grain * np.eye(3)
    return read_folds([fold] * 3, np.float32(lit * RED + share * GREEN), GREEN, axis)


@pytest.mark.parametrize("share", [0.0, 0.16, 0.4, 0.7, 0.92])
def test_the_hue_and_the_share_are_those_that_the_folds_lie_along(share: float) -> None:
    found = read(share)
    assert found.shares == pytest.approx((share,) * 3, abs=0.011)
    assert found.hue @ RED > 0.999
    assert found.clear == pytest.approx(1, abs=1e-3)


def test_grain_of_all_hues_is_not_clear() -> None:
    assert read(0.4, grain=0.1).clear == pytest.approx(1.1 / np.sqrt(1.1**2 + 2 * 0.1**2), rel=1e-3)
    assert read(0.4, grain=1.0).clear < 0.9


def test_no_more_of_the_backing_shows_than_leaves_light() -> None:
    """Of 50 codes of green, with two for noise, a share of .325 of the backing's 160 is the most."""
    found = read_folds([np.outer([1, 0, 0.05], [1, 0, 0.05])] * 3, np.float32([100, 50, 30]), GREEN)
    assert found.share == pytest.approx(0.32, abs=1e-6)
    # nor more than all of it
    bright = read_folds([np.outer(RED, RED)] * 3, np.float32(1.5 * GREEN + 20 * RED), GREEN)
    assert bright.share < 1


def test_a_veil_that_looks_like_the_backing_has_none_of_its_hue_itself() -> None:
    """Folds of the backing's own light would else tell that nothing shows through."""
    olive = np.float32([0.5, 0.85, 0.15])
    fold = [np.outer(olive, olive)] * 3
    light = 100 * olive
    assert read_folds(fold, light, GREEN).share == 0
    kept = read_folds(fold, light, GREEN, HueAxis.of(GREEN))
    assert kept.share > 0
    assert HueAxis.of(GREEN).narrow(kept.hue) <= 0
