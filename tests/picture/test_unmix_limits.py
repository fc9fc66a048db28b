"""How far a pixel may lie off the hues that explain it: each limit from both sides."""

from __future__ import annotations

import numpy as np
import pytest

from ghostprep.picture.key.curve import Curve
from ghostprep.picture.key.hue import HueAxis
from ghostprep.picture.key.palette import AgainstPlate, Palette
from ghostprep.picture.key.unmix import Unmixed, Unmixer

GREEN, RED = np.array([47, 154, 74.0]), np.array([190, 40, 44.0])
MIXED = 0.5 * RED + 0.5 * GREEN
ASIDE = np.cross(RED, GREEN) / np.linalg.norm(np.cross(RED, GREEN))
SIZE = (80, 120)


def unmixer(*colours: np.ndarray, brightest: float = 1.0, through: float = 0.0) -> Unmixer:
    """Hues, of which the first was seen so many times as bright as its colour."""
    length = np.linalg.norm(colours, axis=1)
    lit = np.float32([brightest, *(1 for _ in colours[1:])]) * length
    thin = np.float32([through, *(0 for _ in colours[1:])])
    part = np.full(len(colours), 1 / len(colours), np.float32)
    hues = Palette(np.float32(np.stack(colours) / length[:, None]), np.float32(lit), thin, part, part)
    return Unmixer(hues, HueAxis.of(GREEN), Curve("codes"))


def scene(light: np.ndarray) -> AgainstPlate:
    codes = np.broadcast_to(light, (*SIZE, 3)).astype(np.float32)
    return AgainstPlate(codes, np.broadcast_to(GREEN, codes.shape).astype(np.float32))


def parted(light: np.ndarray, **seen: float) -> Unmixed:
    """Part a flat picture into red and olive, of which there is as much."""
    return unmixer(RED, MIXED, **seen)(scene(light), scene(light), np.zeros(SIZE, np.bool_))


def test_of_two_that_explain_a_colour_each_counts_as_much_as_there_is_of_it() -> None:
    """Olive solid, olive with a share of none, and red before as much green: half of it at a third."""
    assert parted(MIXED).share[40, 60] == pytest.approx(0.5 / 3, rel=0.05)


@pytest.mark.parametrize(("through", "most"), [(0.0, 1.0), (0.5, 2.0), (0.9, 5.0)])
def test_light_a_quarter_brighter_than_was_seen_is_a_sigma_less_likely(through: float, most: float) -> None:
    """By exp(-1/2) at e^(1/4). A hue seen through a veil may be as much brighter, five times at most."""
    brightest = 1 / (np.exp(0.25) * most)
    rarer = np.exp(-0.5)
    found = parted(MIXED, brightest=brightest, through=through).share[40, 60]
    assert found == pytest.approx(0.5 * rarer / (2 + rarer), rel=0.05)


@pytest.mark.parametrize(("off", "known"), [(8.0, True), (32.0, False)])
def test_what_lies_many_codes_off_all_hues_has_a_colour_of_its_own(off: float, known: bool) -> None:
    light = MIXED + off * ASIDE
    hue = parted(light).hue[40, 60]
    aside = abs(float(hue @ ASIDE))
    assert bool(aside < 0.01) is known
    assert bool(aside > 0.15) is not known


def test_an_unknown_colour_is_its_light_without_the_backings() -> None:
    """As much of that as its own hue tells."""
    light = 0.1 * RED + 0.6 * GREEN - 60 * ASIDE
    found = parted(light)
    share = float(HueAxis.of(GREEN).narrow(light) / HueAxis.of(GREEN).narrow(GREEN))
    assert 0.1 < share < 0.95
    assert found.share[40, 60] == pytest.approx(share, abs=0.01)
    left = light - share * GREEN
    assert found.hue[40, 60] == pytest.approx(left / np.linalg.norm(left), abs=0.01)


def test_a_picture_of_nothing_but_backing_is_all_backing() -> None:
    bare = scene(GREEN)
    found = unmixer(RED)(bare, bare, np.ones(SIZE, bool))
    assert (found.share == 1).all()
    assert not found.hue.any()
