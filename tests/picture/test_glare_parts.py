"""How much of the backing's light lies over a figure's blacks: each limit from both sides."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from ghostprep.picture.learn.glare import find_glare
from ghostprep.transfer import codes_to_light, from_linear

GREEN = codes_to_light(np.array([47, 180, 74], np.uint8))
SIZE = (160, 200)


def glared(share: float, *, own: float = 0.0, rows: int = 100, black: float = 1.0, solid: int = 255) -> float:
    """What is told of a figure of 100 columns and so many rows, a part of them black, under a share of glare.

    The blacks have light of their own, a share of the backing's luma.
    """
    matte = np.zeros(SIZE, np.uint8)
    matte[20 : 20 + rows, 40:140] = solid
    luma = float(GREEN @ (0.2126, 0.7152, 0.0722))  # ITU-R BT.709-6, item 3.2
    light = np.tile(GREEN, (*SIZE, 1)).astype(np.float32)
    light[20 : 20 + rows, 40:140] = (0.3, 0.2, 0.15)
    light[20 : 20 + round(black * rows), 40:140] = share * GREEN + own * luma
    # dithered, as noise does: a code is coarse among so little light
    noise = np.random.default_rng(1).uniform(-0.5, 0.5, light.shape)
    frame = np.clip(np.rint(from_linear(light) * 255 + noise), 0, 255).astype(np.uint8)

    def keyer(_: np.ndarray) -> Any:
        return SimpleNamespace(matte=matte)

    plate = np.tile(np.rint(255 * from_linear(GREEN)), (*SIZE, 1)).astype(np.uint8)
    return find_glare(keyer, plate, [frame])


@pytest.mark.parametrize(
    ("share", "found"), [(0.002, 0), (0.008, 0.008), (0.03, 0.03), (0.06, 0.06), (0.09, 0)]
)
def test_a_hundredth_is_glare_a_tenth_is_dark_cloth(share: float, found: float) -> None:
    assert glared(share) == pytest.approx(found, rel=0.2)


@pytest.mark.parametrize(("own", "told"), [(0.003, True), (0.012, False)])
def test_what_reflects_light_of_its_own_is_no_black(own: float, told: bool) -> None:
    """A tenth, or nearly a third, of the luma is its own."""
    assert bool(glared(0.03, own=own)) is told


@pytest.mark.parametrize(("rows", "told"), [(90, True), (68, False)])
def test_two_hundred_of_the_darkest_pixels_must_tell(rows: int, told: bool) -> None:
    """They are three in a hundred of what lies well within: 7544, or 5520 pixels."""
    assert bool(glared(0.03, rows=rows)) is told


@pytest.mark.parametrize(("black", "told"), [(0.15, True), (0.0, False)])
def test_few_blacks_tell_it(black: float, told: bool) -> None:
    assert bool(glared(0.03, black=black)) is told


@pytest.mark.parametrize(("solid", "told"), [(185, True), (170, False)])
def test_only_what_is_solid_but_for_the_glare_is_looked_at(solid: int, told: bool) -> None:
    assert bool(glared(0.03, solid=solid)) is told
