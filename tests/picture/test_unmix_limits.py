"""Where a hue is expected, and how far a pixel may lie off it: each limit from both sides."""

from __future__ import annotations

import numpy as np
import pytest

from ghostprep.picture.key.curve import Curve
from ghostprep.picture.key.hue import HueAxis
from ghostprep.picture.key.near import hues_near
from ghostprep.picture.key.palette import AgainstPlate, Palette
from ghostprep.picture.key.unmix import Unmixed, Unmixer
from tests.picture.apart import parted

GREEN, RED = np.array([47, 154, 74.0]), np.array([190, 40, 44.0])
MIXED = 0.5 * RED + 0.5 * GREEN
ASIDE = np.cross(RED, GREEN) / np.linalg.norm(np.cross(RED, GREEN))
SIZE = (80, 120)


def unmixer(*colours: np.ndarray, brightest: float = 1.0, through: float = 0.0) -> Unmixer:
    """Hues, of which the first was seen so many times as bright as its colour."""
    length = np.linalg.norm(colours, axis=1)
    lit = np.float32([brightest, *(1 for _ in colours[1:])]) * length
    thin = np.float32([through, *(0 for _ in colours[1:])])
    hues = Palette(np.float32(np.stack(colours) / length[:, None]), np.float32(lit), thin)
    return Unmixer(hues, HueAxis.of(GREEN), Curve("codes"))


def scene(light: np.ndarray) -> AgainstPlate:
    codes = np.broadcast_to(light, (*SIZE, 3)).astype(np.float32)
    return AgainstPlate(codes, np.broadcast_to(GREEN, codes.shape).astype(np.float32))


def expected(light: np.ndarray, empty: np.ndarray | None = None) -> np.ndarray:
    """How much red is expected at each place."""
    bare = np.zeros(SIZE, bool) if empty is None else empty
    return hues_near(unmixer(RED).palette, Curve("codes"), scene(light), bare)[..., 0]


def patch(colour: np.ndarray, side: int = 21) -> np.ndarray:
    light = np.zeros((*SIZE, 3))
    light[30 : 30 + side, 50 : 50 + side] = colour
    return light


def seldom(light: np.ndarray, **seen: float) -> Unmixed:
    """Part a flat picture into red and olive, of which neither is anywhere near."""
    nothing = scene(np.zeros(3))
    return parted(unmixer(RED, MIXED, **seen), scene(light), nothing)


def test_a_hue_is_expected_where_it_is_seen_less_around_and_hardly_elsewhere() -> None:
    """Within nine pixels some ten times as much as anywhere, within twenty-five a few times."""
    light = np.zeros((*SIZE, 3))
    light[:, :40] = RED
    row = expected(light)[40]
    elsewhere = row[110]
    assert 300 < row[20] / elsewhere < 1200
    assert 9 < row[42] / elsewhere < 30
    assert 2.2 < row[48] / elsewhere < 6
    assert row[56:] == pytest.approx(elsewhere)


@pytest.mark.parametrize(("length", "shows"), [(5.0, False), (12.0, True)])
def test_light_of_a_few_codes_has_no_hue(length: float, shows: bool) -> None:
    there = expected(patch(length * RED / np.linalg.norm(RED)))[40, 60]
    assert bool(there > 0.9) is shows


@pytest.mark.parametrize(("off", "shows"), [(8.0, True), (20.0, False)])
def test_a_place_shows_a_hue_within_a_dozen_codes_of_it(off: float, shows: bool) -> None:
    there = expected(patch(0.5 * RED + off * ASIDE))[40, 60]
    assert bool(there > 0.9) is shows


@pytest.mark.parametrize(("side", "shows"), [(2, False), (7, True)])
def test_what_shows_a_hue_is_larger_than_a_speck(side: int, shows: bool) -> None:
    there = expected(patch(RED, side))
    assert bool(there.max() > 0.1) is shows


def test_where_there_is_nothing_but_backing_no_hue_shows() -> None:
    empty = np.zeros(SIZE, bool)
    empty[:, :60] = True
    there = expected(np.broadcast_to(RED, (*SIZE, 3)), empty)[40]
    assert there[20] < 0.01
    assert there[100] > 1


def test_of_two_that_explain_a_colour_solid_cloth_is_twice_as_likely() -> None:
    """Solid olive 1; olive, and red before green, as mixtures 1/2 each: half the backing at 1/4."""
    assert seldom(MIXED).share[40, 60] == pytest.approx(0.5 / 4, rel=0.15)


@pytest.mark.parametrize(("through", "most"), [(0.0, 1.0), (0.5, 2.0), (0.9, 5.0)])
def test_light_a_quarter_brighter_than_was_seen_is_a_sigma_less_likely(through: float, most: float) -> None:
    """By exp(-1/2) at e^(1/4). A hue seen through a veil may be as much brighter, five times at most."""
    brightest = 1 / (np.exp(0.25) * most)
    rarer = np.exp(-0.5)
    found = seldom(MIXED, brightest=brightest, through=through).share[40, 60]
    assert found == pytest.approx(0.5 * 0.5 * rarer / (1 + 0.5 + 0.5 * rarer), rel=0.12)


@pytest.mark.parametrize(("off", "known"), [(8.0, True), (32.0, False)])
def test_what_lies_many_codes_off_all_hues_has_a_colour_of_its_own(off: float, known: bool) -> None:
    light = MIXED + off * ASIDE
    hue = seldom(light).hue[40, 60]
    aside = abs(float(hue @ ASIDE))
    assert bool(aside < 0.01) is known
    assert bool(aside > 0.15) is not known


def test_an_unknown_colour_is_its_light_without_the_backings() -> None:
    """As much of that as its own hue tells."""
    light = 0.1 * RED + 0.6 * GREEN - 60 * ASIDE
    found = seldom(light)
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
