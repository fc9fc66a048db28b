"""Which colours make the palette, from sums drawn by hand: each rule from both sides."""

from __future__ import annotations

import numpy as np
import pytest

from ghostprep.picture.key.hue import HueAxis
from ghostprep.picture.key.palette import Palette
from ghostprep.picture.learn.cloth import ToldCloths, cloths_of, palette_of
from ghostprep.picture.learn.colour import Colour, inner, well_within
from ghostprep.picture.learn.colours import _apart
from ghostprep.picture.learn.folds import _SHARES, Folds

GREEN, RED, BLUE = np.float32([47, 154, 74]), np.float32([190, 40, 44]), np.float32([50, 70, 180])
AXIS = HueAxis.of(GREEN)
NOTHING = ToldCloths()


def unit(colour: np.ndarray) -> np.ndarray:
    return np.asarray(colour / np.linalg.norm(colour))


def colour(
    light: np.ndarray,
    *,
    inside: int = 1000,
    whole: float = 0.8,
    through: float | None = None,
    varied: float = 2,
) -> Colour:
    """A colour of so many pixels within, a share of all; its folds tell what shows through.

    Its light's logarithm is `varied` from quartile to quartile.
    """
    one = Colour(pixels=round(inside / whole), inside=inside)
    one.light, one.plate = np.float32(light * inside), np.float32(GREEN * inside)
    one.lengths = [np.geomspace(100 * np.exp(-2 * varied), 100, 101, dtype=np.float32)]
    if through is not None:
        one.folds = [Folds(np.float32(2 - 10 * np.abs(_SHARES - through)), inside)]
    return one


def palette(colours: list[Colour], told: ToldCloths = NOTHING) -> Palette:
    return palette_of(cloths_of(colours, AXIS, told))


def through(told: Palette, hue: np.ndarray) -> float | None:
    """Share of the backing of the hue within half a degree; None if there is none."""
    found = np.flatnonzero(told.hues @ unit(hue) > np.cos(np.deg2rad(0.5)))
    return float(told.through[found[0]]) if len(found) else None


def test_cloth_has_its_own_hue_its_share_and_its_brightest() -> None:
    told = palette([colour(RED, inside=3000), colour(BLUE, inside=1000)])
    assert through(told, RED) == 0
    assert through(told, BLUE) == 0
    # the brightest but for one in twenty, of light that falls evenly by e^4
    assert told.brightest == pytest.approx(100 * np.exp(-4 / 20))
    none = palette([])
    assert (none.hues.tolist(), none.through) == ([[pytest.approx(3**-0.5)] * 3], 0)
    assert none.brightest == 255


@pytest.mark.parametrize(("share", "veil"), [(0.3, True), (0.6, True), (0.0, False)])
def test_a_veil_by_its_folds_may_have_hair_before_it(share: float, veil: bool) -> None:
    mixed = (1 - share) * BLUE + share * GREEN
    told = palette([colour(RED, inside=3000), colour(mixed, whole=0.3, through=share)])
    assert bool(told.through.max() > 0.2) is veil
    if veil:
        assert through(told, BLUE) == pytest.approx(share)


def test_what_more_of_a_cloth_makes_with_much_of_the_backing_is_its_own_veil() -> None:
    """A lamp's light on the backing has folds that lie along any hue."""
    mixed = 0.15 * RED + 0.85 * GREEN
    assert colour(mixed).showing(AXIS) > 0.15
    told = palette([colour(RED, inside=3000), colour(mixed, through=0.85)])
    assert told.through.tolist() == [0]


def test_a_colour_that_cloth_makes_is_left_out_unless_its_folds_are_solid() -> None:
    mixed = 0.6 * RED + 0.4 * GREEN
    assert through(palette([colour(RED, inside=2000), colour(mixed, varied=0)]), mixed) is None
    assert through(palette([colour(RED, inside=2000), colour(mixed, through=0)]), mixed) == 0
    # more of it than of the cloth that would make it
    assert through(palette([colour(RED, inside=500), colour(mixed, varied=0)]), mixed) == 0


@pytest.mark.parametrize(("share", "varied", "own"), [(0.4, 0.2, True), (0.4, 0.1, False), (0.7, 0.2, False)])
def test_unless_its_hue_is_foreign_and_its_light_varies(share: float, varied: float, own: bool) -> None:
    """Red with a little green is far from the green's hue, with .7 of it no longer."""
    mixed = (1 - share) * RED + share * GREEN
    assert (colour(mixed).showing(AXIS) < -0.2) is (share == 0.4)
    told = palette([colour(RED, inside=2000), colour(mixed, varied=varied)])
    assert (through(told, mixed) == 0) is own


@pytest.mark.parametrize("share", [0.2, 0.5])
def test_hair_before_the_backing_has_the_hue_that_is_left(share: float) -> None:
    """Without as much of the backing as its own hue tells, nowhere below none."""
    mixed = (1 - share) * BLUE + share * GREEN
    seen = colour(mixed).showing(AXIS)
    told = palette([colour(mixed, whole=0.1)])
    assert through(told, np.maximum(mixed - max(seen, 0) * GREEN, 0)) == 0
    foreign = palette([colour(RED, whole=0.1)])
    assert through(foreign, RED) == 0


def test_how_much_of_the_backings_hue_a_colour_shows() -> None:
    assert colour(GREEN).showing(AXIS) == pytest.approx(1)
    assert colour(0.3 * GREEN + 90).showing(AXIS) == pytest.approx(0.3, abs=1e-4)
    assert colour(RED).showing(AXIS) < 0


@pytest.mark.parametrize(("share", "made"), [(0.06, False), (0.15, True), (0.5, True)])
def test_a_tenth_of_the_backing_makes_another_colour_of_a_hue(share: float, made: bool) -> None:
    light = (1 - share) * RED + share * GREEN
    assert colour(light).is_made_of(unit(RED)) is made
    parts = ((1 - share) * np.linalg.norm(RED), share)
    assert colour(light, inside=1).made_of(unit(RED)) == pytest.approx(parts, abs=1e-3)
    # nothing is made of less light than none
    assert not colour(0.9 * GREEN - 0.2 * RED).is_made_of(unit(RED))


@pytest.mark.parametrize(("off", "made"), [(0.05, True), (0.1, False)])
def test_what_lies_off_the_plane_is_not_made(off: float, made: bool) -> None:
    light = 0.5 * RED + 0.5 * GREEN
    light = light + off * np.linalg.norm(light) * unit(np.cross(RED, GREEN))
    assert colour(light).is_made_of(unit(RED)) is made


def test_there_must_be_more_of_the_cloth() -> None:
    mixed = colour(0.5 * RED + 0.5 * GREEN, inside=1000)
    assert mixed.is_made_of_more([colour(RED, inside=1001)])
    assert not mixed.is_made_of_more([colour(RED, inside=1000)])
    assert not mixed.is_made_of_more([colour(BLUE, inside=1001)])


@pytest.mark.parametrize(("degrees", "count"), [(0.7, 1), (1.0, 2)])
def test_colours_that_noise_parts_are_one(degrees: float, count: int) -> None:
    """Of the length 1; .015 apart, that is .86 degrees."""
    aside = unit(np.cross(RED, GREEN))
    other = np.cos(np.deg2rad(degrees)) * unit(RED) + np.sin(np.deg2rad(degrees)) * aside
    kept = _apart(np.float32([unit(RED), other]))
    assert len(kept) == count
    assert kept[0] == pytest.approx(unit(RED), abs=1e-6)


def test_what_lies_well_within_has_no_specks_and_no_rim() -> None:
    there = np.zeros((60, 80), bool)
    there[20:40, 20:60] = True
    there[5, 5] = True
    there[30, 40] = False
    assert inner(there)[22:38, 22:58].all()
    assert not inner(there)[5, 5]
    within = well_within(there)
    assert within[22:38, 22:58].all()
    assert 640 < within.sum() <= 18 * 38  # but for the corners
