"""The level of the black behind a figure, in pictures whose level is known."""

from __future__ import annotations

import numpy as np
import pytest

from ghostprep.picture.learn.black_level import Level, find_level

SIZE = (80, 120)


@pytest.mark.parametrize("towards", [(1, 1), (1, -1), (-1, 1), (-1, -1)])
def test_a_black_that_slopes_is_followed_to_each_corner(towards: tuple[int, int]) -> None:
    """A tenth of 18 codes over the picture each way, with noise; a bright figure over a quarter of it."""
    yy, xx = np.mgrid[-0.5:0.5:80j, -0.5:0.5:120j]
    plane = 18 + 1.8 * (towards[0] * xx + towards[1] * yy)
    frames = plane[None, :, :, None] + np.random.default_rng(5).normal(0, 0.7, (10, 80, 120, 3))
    frames[:, 30:, 40:80] = 170
    level = find_level(np.clip(np.rint(frames), 0, 255).astype(np.uint8))
    assert level.sure
    assert level.share == pytest.approx(0.75, abs=0.12)
    assert np.abs(level.codes - plane[..., None]).max() < 0.6


def test_where_too_little_is_black_the_lowest_level_stands() -> None:
    """A fifth of the picture, at its left, is black; light that never leaves lies over the rest."""
    frames = np.full((6, 80, 120, 3), 12.0)
    frames[:, :, 24:] = np.linspace(24, 120, 96)[:, None]
    level = find_level(np.rint(frames).astype(np.uint8))
    assert not level.sure
    assert level.share == pytest.approx(0.2, abs=0.03)
    assert level.codes == pytest.approx(12)


def test_black_cloth_below_the_figure_is_not_the_black_behind_it() -> None:
    frames = np.full((6, 80, 120, 3), 16.0)
    frames[:, 56:, 20:100] = 4
    frames[:, 20:56, 48:72] = 140
    level = find_level(frames.astype(np.uint8))
    assert level.codes[:48] == pytest.approx(16, abs=0.5)


def level_of(picture: np.ndarray, sigma: float = 0.0, count: int = 6) -> Level:
    noise = np.random.default_rng(5).normal(0, sigma, (count, *picture.shape))
    return find_level(np.clip(np.rint(picture[None] + noise), 0, 255).astype(np.uint8))


def flat(level: float) -> np.ndarray:
    picture = np.full((*SIZE, 3), float(level))
    picture[30:, 40:80] = 170
    return picture


@pytest.mark.parametrize("sigma", [1.0, 3.0])
@pytest.mark.parametrize("black", [12, 25])
def test_noise_does_not_pull_it_down(black: float, sigma: float) -> None:
    """A cell's mean has an eighth of its pixels' noise."""
    level = level_of(flat(black), sigma)
    assert level.sure
    assert np.abs(level.codes - black).max() < 0.4 + 0.1 * sigma


@pytest.mark.parametrize(("share", "sure"), [(0.2, False), (0.35, True)])
def test_a_quarter_of_the_picture_must_lie_at_one_level(share: float, sure: bool) -> None:
    """The rest is light that never leaves."""
    picture = np.full((*SIZE, 3), 12.0)
    wide = round(share * SIZE[1])
    picture[:, wide:] = np.linspace(24, 120, SIZE[1] - wide)[:, None]
    level = level_of(picture)
    assert level.sure is sure
    assert level.share == pytest.approx(share, abs=0.03)
    assert level.codes[:, : wide - 8] == pytest.approx(12, abs=0.5)


@pytest.mark.parametrize("more", [6.0, 10.0])
def test_a_glow_six_codes_above_it_is_none_of_it(more: float) -> None:
    """Over half of the picture."""
    picture = flat(16)
    picture[:, 60:] += more
    assert np.abs(level_of(picture, 0.5).codes - 16).max() < 0.3


@pytest.mark.parametrize(("slope", "off"), [(0.1, 0.3), (0.2, 0.8)])
def test_a_black_that_slopes_is_followed_beneath_the_figure(slope: float, off: float) -> None:
    across = 24 * (1 + slope * np.linspace(-0.5, 0.5, SIZE[1]))
    picture = flat(0) + across[None, :, None]
    assert np.abs(level_of(picture, 0.7).codes[..., 0] - across).max() < off


def test_a_picture_smaller_than_a_cell_has_a_level() -> None:
    assert level_of(np.full((5, 7, 3), 9.0)).codes == pytest.approx(9, abs=0.1)
