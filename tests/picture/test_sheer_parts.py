"""What the detail in a window tells of cloth before a room: a regression, done here window by window."""

from __future__ import annotations

import numpy as np
import pytest

from ghostprep.picture.key.sheer import Sheer, _told, find_sheer
from ghostprep.picture.key.sheer_cloth import Detailed

REACH = 3
"""Half of a window, pixels."""


def scene(thin: float, grain: float, seed: int = 2) -> tuple[np.ndarray, np.ndarray]:
    """A frame (h, w, 3) in which a share of a plate shows through grey cloth with a grain of its own."""
    rng = np.random.default_rng(seed)
    plate = rng.uniform(20, 120, (40, 50, 3)).astype(np.float32)
    frame = (thin * plate + 60 + rng.normal(0, grain, plate.shape)).astype(np.float32)
    return frame, plate


def in_window(x: np.ndarray, row: int, column: int, mask: np.ndarray) -> np.ndarray:
    cut = np.s_[row - REACH : row + REACH + 1, column - REACH : column + REACH + 1]
    return x[cut][mask[cut] > 0]


def told(frame: np.ndarray, plate: np.ndarray, mask: np.ndarray) -> Detailed:
    cover = mask[..., None]
    return _told(frame * cover, plate * cover, mask, np.full(mask.shape, 0.5, np.float32))


@pytest.mark.parametrize("covered", [50, 28])
@pytest.mark.parametrize(("thin", "grain"), [(0.4, 3), (0.7, 20), (0.2, 12)])
def test_the_share_that_shows_through_is_the_slope_over_covered_pixels(
    thin: float, grain: float, covered: int
) -> None:
    frame, plate = scene(thin, grain)
    mask = np.zeros(frame.shape[:2], np.float32)
    mask[:, :covered] = 1
    found = told(frame, plate, mask)
    for row, column in ((10, 10), (20, 24), (30, 26)):
        ours, theirs = (in_window(x, row, column, mask) for x in (frame, plate))
        ours, theirs = ours - ours.mean(0), theirs - theirs.mean(0)
        slope = (ours * theirs).sum() / (theirs**2).sum()
        assert found.slope[row, column] == pytest.approx(slope, rel=5e-3)
        assert found.own[row, column] == pytest.approx((ours**2).sum() / len(ours), rel=5e-3)
        assert found.common[row, column] == pytest.approx((ours * theirs).sum() / len(ours), rel=5e-3)
        assert found.detail[row, column] == pytest.approx((theirs**2).sum() / len(ours), rel=5e-3)
        # believed by its coefficient of determination
        fit = np.corrcoef(ours.ravel(), theirs.ravel())[0, 1] ** 2
        sure = np.clip((fit - 0.65) / 0.2, 0, 1)
        assert found.sure[row, column] == pytest.approx(sure, abs=0.02)


def adding(added: np.ndarray, plate: np.ndarray, noise: float) -> np.ndarray:
    """How far it is believed (h, w) that all covers no place of a plate that has so much added."""
    frame = (plate + added[..., None]).astype(np.float32)
    sigma = np.full(plate.shape[:2], noise, np.float32)
    return find_sheer(frame, plate, np.ones(plate.shape[:2], np.bool_), sigma).lit


def hill(height: float, width: float) -> np.ndarray:
    yy, xx = np.mgrid[:60, :80]
    return np.asarray(height * np.exp(-((yy - 30) ** 2 + (xx - 40) ** 2) / (2 * width**2)))


@pytest.mark.parametrize("noise", [0.5, 1.0, 3.0])
@pytest.mark.parametrize(("offset", "adds"), [(0.0, True), (-1.6, True), (-2.4, False)])
def test_what_darkens_the_plate_by_twice_the_noise_is_no_light(
    offset: float, adds: bool, noise: float
) -> None:
    plate = np.full((60, 80, 3), 90, np.float32)
    found = adding(np.full((60, 80), offset * noise), plate, noise)
    assert (found[10:50, 10:70] > 0.9).all() == adds
    assert (found > 0.1).any() == adds
    assert adding(hill(70, 6), plate, 1)[26:34, 36:44].min() > 0.9


@pytest.mark.parametrize(
    ("noise", "shows", "adds"), [(1, 0.0, False), (1, 0.4, False), (1, 0.6, True), (8, 0.0, True)]
)
def test_light_that_only_adds_keeps_more_than_half_of_the_plates_detail(
    noise: float, shows: float, adds: bool
) -> None:
    """A dark hollow in a wall; something as bright as the wall hides it, or so much of it shows.

    Its slopes, six codes a pixel in three channels, make 21 codes of detail in a window of seven pixels: that
    tells from twice to five times the noise.
    """
    hollow = hill(80, 8)
    plate = np.repeat((120 - hollow)[..., None], 3, axis=2).astype(np.float32)
    found = adding((1 - shows) * hollow, plate, noise)
    assert (found[29:31, 47:49].mean() > 0.9) == adds
    assert (found[29:31, 47:49].mean() < 0.1) != adds


def test_as_much_is_taken_of_the_plate_as_is_bare_or_shows_through() -> None:
    """Cloth opens what was covered, as far as it is sure, and never covers; light covers nothing."""
    bare = np.repeat(np.float32([[0, 0, 0.8, 0, 0.3]]), 2, 0)
    through = np.repeat(np.float32([[0.6, 0.6, 0.4, 0.6, 0]]), 2, 0)
    sure = np.repeat(np.float32([[1, 0.5, 1, 1, 0]]), 2, 0)
    lit = np.repeat(np.float32([[0, 0, 0, 0.5, 1]]), 2, 0)
    shown, light = Sheer(through, sure, lit).shown(bare)
    assert shown[0] == pytest.approx([0.6, 0.3, 0.8, 0.8, 1], abs=1e-6)
    assert (light == lit).all()
