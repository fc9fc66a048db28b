"""Where light falls off: by scikit-image's reconstruction, and each limit from both sides."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from scipy.ndimage import grey_dilation, uniform_filter
from skimage.morphology import reconstruction

from ghostprep.picture.key.falloff import _EVEN, _LEAST, _STEEP, falls_off, outlines

AROUND = np.ones((3, 3))


def most(picture: np.ndarray, reach: int) -> np.ndarray:
    return np.asarray(grey_dilation(picture, (reach, reach), mode="nearest"))


def climbs(codes: np.ndarray, share: float) -> np.ndarray:
    """Where a picture climbs by a share of its height within two pixels, and by eight codes at least."""
    channels = [c.astype(int) for c in np.moveaxis(codes, -1, 0)]
    climb = np.max([most(c, 3) + most(-c, 3) for c in channels], axis=0)
    return np.asarray(climb > np.maximum(share * most(codes.max(-1), 5).astype(float), _LEAST))


def reconstructed(above: np.ndarray, bare: float) -> np.ndarray:
    """The same by a library: holes are filled from the black; what was raised is a body."""
    means = np.stack(
        [uniform_filter(c.astype(float), 3, mode="mirror") for c in np.moveaxis(above, -1, 0)], -1
    )
    light = np.clip(np.rint(np.maximum(means, 0)), 0, 255)
    sharp = np.clip(np.rint(np.maximum(above, 0)), 0, 255).astype(np.uint8)
    outline = climbs(sharp, _STEEP)
    black = (light.max(-1) <= bare) & ~outline
    closed = (most(outline, 3) > 0) & ~black
    raised = np.zeros(black.shape)
    for channel in np.moveaxis(light, -1, 0):
        ground = np.where(closed, 255.0, channel)
        water = reconstruction(np.where(black, channel, 255.0), ground, "erosion", AROUND)
        raised = np.maximum(raised, water - channel)
    height = most(sharp.max(-1), 5).astype(float)
    downhill = ((raised <= np.maximum(_EVEN * height, 2)) & ~closed) | black
    return (most(downhill, 3) > 0) & ~outline


def scene(seed: int) -> np.ndarray:
    """Hills and boxes of many heights, colours and widths, with some noise."""
    rng = np.random.default_rng(seed)
    yy, xx = np.mgrid[:70, :90]
    light = rng.normal(0, 0.6, (70, 90, 3))
    for _ in range(4):
        y, x, wide = rng.uniform(0, 70), rng.uniform(0, 90), rng.uniform(3, 12)
        hill = rng.uniform(10, 150) * np.exp(-((yy - y) ** 2 + (xx - x) ** 2) / (2 * wide**2))
        light += hill[..., None] * rng.uniform(0.3, 1, 3)
    for _ in range(3):
        y, x = rng.integers(0, 55), rng.integers(0, 70)
        light[y : y + rng.integers(6, 15), x : x + rng.integers(6, 20)] += rng.uniform(8, 90, 3)
    return light.astype(np.float32)


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("bare", [2.0, 6.0])
def test_it_is_a_reconstruction_from_the_black(seed: int, bare: float) -> None:
    above = scene(seed)
    found = falls_off(above, bare)
    assert 0.05 < found.mean() < 0.99
    # rounding of a mean may go the other way
    assert (found != reconstructed(above, bare)).mean() < 0.01


@pytest.mark.parametrize(("climb", "outline"), [(0.5, False), (0.75, True)])
@pytest.mark.parametrize("height", [60, 200])
def test_an_outline_climbs_by_a_share_of_its_height(climb: float, outline: bool, height: int) -> None:
    codes = np.full((30, 40, 3), height, np.uint8)
    codes[:, :20] = round((1 - climb) * height)
    assert bool(outlines(codes, 0.6)[:, 19:21].any()) is outline
    # by the height of what lies within two pixels
    codes[:, 23:] = 0
    assert not outlines(codes, 0.6)[:, 26:].any()


@pytest.mark.parametrize(("step", "outline"), [(6, False), (11, True)])
def test_a_step_of_less_than_eight_codes_is_the_coders(step: int, outline: bool) -> None:
    codes = np.zeros((30, 40, 3), np.uint8)
    codes[:, 20:, 1] = step
    assert bool(outlines(codes, 0.6).any()) is outline


@pytest.mark.parametrize(("dip", "falls"), [(0.03, True), (0.14, False)])
def test_noise_may_go_uphill_by_a_sixteenth_of_the_height(dip: float, falls: bool) -> None:
    """A wall of light around a hollow, the way out of which leads uphill."""
    yy, xx = np.mgrid[-60:60, -80:80]
    far = np.hypot(yy, xx)
    light = 150 * np.exp(-(np.maximum(far - 24, 0) ** 2) / (2 * 14**2))
    light -= dip * 150 * np.clip(1 - far / 24, 0, 1)
    found = falls_off(np.repeat(light[..., None], 3, 2).astype(np.float32), 3.0)
    assert bool(found[60, 80]) is falls


def test_the_black_is_all_that_lies_below_its_limit() -> None:
    above = np.full((40, 60, 3), 9.0, np.float32)
    cv2.rectangle(above, (10, 10), (30, 30), (120, 120, 120), -1)
    assert falls_off(above, 10.0)[:, 40:].all()
    assert not falls_off(above, 10.0)[14:26, 14:26].any()
