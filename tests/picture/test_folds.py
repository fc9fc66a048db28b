"""What the folds of a cloth tell: shares with known answers, each limit from both sides."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ghostprep.picture.key.curve import Curve
from ghostprep.picture.key.hue import HueAxis
from ghostprep.picture.learn.folds import FoldReader, Folds, Told, together

GREEN = np.float32([40, 160, 70])
RED = np.float32([0.9, 0.3, np.sqrt(0.1)])
"""A hue, of length 1."""
OLIVE = np.float32([0.5, 0.85, 0.15])
AXIS = HueAxis.of(GREEN)
SIZE = (120, 160)
WEAVE = cv2.GaussianBlur(np.random.default_rng(4).normal(0, 1, SIZE).astype(np.float32), (0, 0), 3)
WEAVE /= WEAVE.std()


def read(
    colour: np.ndarray,
    fold: np.ndarray,
    *,
    swing: float = 10.0,
    lamp: np.ndarray | float = 0.0,
    grain: float = 0.0,
    noise: float = 0.0,
) -> Folds:
    """What is read of cloth whose light swings along a hue, under a lamp, with grain of all hues."""
    rough = np.random.default_rng(5).normal(0, grain, (*SIZE, 3)) if grain else 0.0
    light = np.float32(colour + swing * WEAVE[..., None] * fold + lamp + rough)
    here = np.zeros(SIZE, bool)
    here[5:-5, 5:-5] = True
    return FoldReader(AXIS, 0.15, Curve("codes"), noise)(light, np.tile(GREEN, (*SIZE, 1)), here)


@pytest.mark.parametrize("share", [-0.1, 0.0, 0.16, 0.4, 0.7, 0.9])
def test_the_share_is_that_with_which_the_hue_lies_along_the_folds(share: float) -> None:
    lit = 100 * (1 - share)
    found = read(lit * RED + share * GREEN, RED, swing=0.1 * lit)
    assert found == (pytest.approx(share, abs=0.02), pytest.approx(1, abs=1e-3), 110 * 150)


@given(st.floats(0.25, 0.85), st.floats(30, 120), st.tuples(*[st.floats(0.1, 1)] * 3))
def test_any_veil_is_read(share: float, lit: float, hue: tuple[float, float, float]) -> None:
    """Of any hue but the backing's own, and not so bright that its cloth would be brighter than white."""
    own = np.float32(hue) / np.linalg.norm(hue)
    if AXIS.narrow(own) > -0.05 or (lit + 45) * own.max() > (1 - share) * 255:
        return
    assert read(lit * own + share * GREEN, own).share == pytest.approx(share, abs=0.03)


def test_folds_of_all_hues_are_not_clear() -> None:
    assert read(90 * RED + 0.4 * GREEN, RED, grain=1.0).clear > 0.9
    assert read(90 * RED + 0.4 * GREEN, RED, grain=12.0).clear < 0.8


@pytest.mark.parametrize(("noise", "clear"), [(17.0, True), (19.0, False)])
def test_folds_must_be_half_as_deep_as_the_noise(noise: float, clear: bool) -> None:
    """Ten deep; nine in the channel where a red one is deepest."""
    assert (read(90 * RED + 0.4 * GREEN, RED, noise=noise).clear > 0.9) is clear


def test_light_that_a_lamp_adds_is_no_fold() -> None:
    """It climbs by thirty and more over the picture, a fold by ten and more over its few pixels."""
    climbs = np.linspace(0, 60, SIZE[1])[None, :, None] * np.float32([0.5, 0.6, 0.62])
    colour = 60 * RED + 0.4 * GREEN
    under = read(colour - climbs.mean((0, 1)), RED, lamp=climbs)
    assert under.share == pytest.approx(0.4, abs=0.05)
    assert under.clear > 0.9


def test_no_more_of_the_backing_shows_than_leaves_light() -> None:
    """Of 50 codes of green, with two for noise, a share of .32 of the backing's 160 is the most."""
    odd = np.float32([1, -0.2, 0.05])
    assert read(np.float32([100, 50, 30]), odd).share == pytest.approx(0.32, abs=1e-6)


@pytest.mark.parametrize(("bright", "most"), [(100, 0.98), (180, 0.42), (220, 0.2)])
def test_no_more_of_the_backing_shows_than_white_cloth_would_leave(bright: float, most: float) -> None:
    """A cloth that covers half of a place and is as bright as white gives it no more than half of white."""
    light = np.float32([bright, 0.8 * bright + 30, 0.8 * bright])
    share = read(light, np.float32([1, -1, 0.2])).share
    assert share <= most


def test_a_veil_that_looks_like_the_backing_has_none_of_its_hue_itself() -> None:
    """Folds of the backing's own light would else tell that nothing shows through."""
    mixed = 60 * OLIVE + 0.5 * GREEN
    shown = read(mixed, mixed / np.linalg.norm(mixed))
    assert shown.share >= 0.48
    assert AXIS.narrow(np.float32(mixed - shown.share * GREEN)) <= 1
    trace = np.float32([95, 100, 80])
    assert AXIS.narrow(trace) < 0.15 * AXIS.narrow(GREEN)
    assert read(trace, trace / np.linalg.norm(trace)).share == pytest.approx(0, abs=0.021)


def many(*shares: float, clear: float = 0.97, unclear: int = 0) -> Told:
    patches = [Folds(share, clear, 100) for share in shares]
    return together([*patches, *[Folds(0.9, 0.5, 100)] * unclear])


def test_patches_tell_the_median_by_their_pixels() -> None:
    assert many(0.5, 0.4, 0.1, 0.6) == (0.4, 0.1, True)
    large = [Folds(0.3, 0.95, 1000), Folds(0.6, 0.95, 100), Folds(0.7, 0.95, 100)]
    assert together(large).share == 0.3
    assert together([]) == (0, 0, False)


@pytest.mark.parametrize(
    ("told", "veil"),
    [
        (many(0.4, 0.45, 0.5, 0.5), True), (many(0.4, 0.45, 0.5, clear=0.88), False),
        (many(0.22, 0.25, 0.3, 0.4), True), (many(0.18, 0.25, 0.3, 0.4), False),
        (many(0.8, 0.85, 0.94), True), (many(0.96, 0.96, 0.96), False),
        (many(0.4, 0.45, unclear=4), True), (many(0.4, 0.45, unclear=5), False),
    ],
)  # fmt: skip
def test_a_veil_is_told_by_patches_of_which_three_fourths_show_the_backing(told: Told, veil: bool) -> None:
    assert told.tell_a_veil is veil


@pytest.mark.parametrize(
    ("told", "solid"),
    [(many(0, 0.1, 0.18), True), (many(0.1, 0.22, 0.22), False), (many(0, 0.1, clear=0.88), False)],
)
def test_solid_cloth_is_told_by_folds_that_show_nothing_of_the_backing(told: Told, solid: bool) -> None:
    assert told.tell_solid is solid
