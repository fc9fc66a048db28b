"""What the folds of a cloth tell: shares with known answers, each limit from both sides."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ghostprep.picture.key.curve import Curve
from ghostprep.picture.key.hue import HueAxis
from ghostprep.picture.learn.folds import _SHARES, FoldReader, Folds, Told, together

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
    hair: np.ndarray | None = None,
) -> Told:
    """What is read of cloth whose light swings along a hue, under a lamp, with grain of all hues and hair."""
    rough = np.random.default_rng(5).normal(0, grain, (*SIZE, 3)) if grain else 0.0
    light = np.float32(colour + swing * WEAVE[..., None] * fold + lamp + rough)
    fine = np.zeros(SIZE, np.float32)
    if hair is not None:
        light[:, ::8], fine[:, ::8] = hair, 1
    here = np.zeros(SIZE, bool)
    here[5:-5, 5:-5] = True
    reader = FoldReader(AXIS, 0.15, Curve("codes"), noise)
    return together([reader(light, np.tile(GREEN, (*SIZE, 1)), fine, here)])


@pytest.mark.parametrize("share", [-0.1, 0.0, 0.16, 0.4, 0.7, 0.9])
def test_the_share_is_that_with_which_the_hue_lies_along_the_folds(share: float) -> None:
    lit = 100 * (1 - share)
    told = read(lit * RED + share * GREEN, RED, swing=max(0.1 * lit, 3))
    assert told.share == pytest.approx(share, abs=0.02)


@given(st.floats(0.25, 0.85), st.floats(30, 120), st.tuples(*[st.floats(0.1, 1)] * 3))
def test_any_veil_is_read(share: float, lit: float, hue: tuple[float, float, float]) -> None:
    """Of any hue but the backing's own, and not so bright that its cloth would be brighter than white."""
    own = np.float32(hue) / np.linalg.norm(hue)
    if AXIS.narrow(own) > -0.05 or (lit + 45) * own.max() > (1 - share) * 255:
        return
    assert read(lit * own + share * GREEN, own).share == pytest.approx(share, abs=0.03)


def test_folds_of_all_hues_tell_nothing() -> None:
    assert read(90 * RED + 0.4 * GREEN, RED, grain=1.0).tell_a_veil
    assert read(90 * RED + 0.4 * GREEN, RED, grain=12.0) == (0, 0, 0)


@pytest.mark.parametrize(("noise", "tells"), [(8.0, True), (12.0, False)])
def test_folds_must_be_as_deep_as_the_noise(noise: float, tells: bool) -> None:
    """Ten deep: half of the noise is then a fifth of their squares."""
    assert read(90 * RED + 0.4 * GREEN, RED, noise=noise).tell_a_veil is tells


def test_folds_of_less_than_a_code_tell_nothing() -> None:
    assert read(90 * RED + 0.4 * GREEN, RED, swing=1.5).tell_a_veil
    assert not read(90 * RED + 0.4 * GREEN, RED, swing=0.8).tell_a_veil


def test_hair_over_a_cloth_tells_nothing_of_it() -> None:
    assert read(90 * RED + 0.4 * GREEN, RED, hair=np.float32([20, 40, 160])).share == pytest.approx(
        0.4, abs=0.02
    )


def test_light_that_a_lamp_adds_is_no_fold() -> None:
    """It climbs by thirty and more over the picture, a fold by ten and more over its few pixels."""
    climbs = np.linspace(0, 60, SIZE[1])[None, :, None] * np.float32([0.5, 0.6, 0.62])
    colour = 60 * RED + 0.4 * GREEN
    under = read(colour - climbs.mean((0, 1)), RED, lamp=climbs)
    assert under.share == pytest.approx(0.4, abs=0.05)
    assert under.tell_a_veil


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


def patch(share: float, *, hue: float = 0.02, best: float = 2.2, pixels: int = 100) -> Folds:
    """Folds that one share explains best, less by a half from so far off on."""
    return Folds(np.float32(best / (1 + ((_SHARES - share) / hue) ** 2)), pixels)


def test_patches_tell_together_by_their_pixels() -> None:
    assert together([patch(0.3, pixels=1000), patch(0.6), patch(0.7)]).share == pytest.approx(0.3)
    wide = together([patch(0.3, hue=0.5), patch(0.6, hue=0.05)])
    assert wide.share == pytest.approx(0.6)
    assert together([]) == (0, 0, 0)


def test_a_patch_whose_folds_nothing_explains_tells_nothing() -> None:
    unclear = patch(0.8, best=1.1, pixels=10_000)
    assert together([patch(0.3), unclear]) == together([patch(0.3)])
    assert together([unclear]) == (0, 0, 0)


@pytest.mark.parametrize(
    ("share", "hue", "veil", "solid"),
    [
        (0.4, 0.2, True, False), (0.06, 0.02, True, False), (0.06, 1.0, False, True),
        (0.0, 0.2, False, True), (-0.1, 0.2, False, True), (0.25, 10.0, False, False),
        (0.14, 0.3, False, True), (0.2, 0.4, True, False),
    ],
)  # fmt: skip
def test_cloth_is_thin_or_solid_where_the_other_explains_its_folds_less_well(
    share: float, hue: float, veil: bool, solid: bool
) -> None:
    told = together([patch(share, hue=hue)])
    assert (told.tell_a_veil, told.tell_solid) == (veil, solid)
