"""Which of a figure's colours are cloth, veils, or made of others: each limit from both sides."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from ghostprep.picture.key.curve import Curve
from ghostprep.picture.key.hue import HueAxis
from ghostprep.picture.key.palette import Palette
from ghostprep.picture.learn.cloth import ToldCloths, cloths_of, palette_of
from ghostprep.picture.learn.colours import find_colours
from ghostprep.picture.learn.even import EvenPlate

GREEN = np.array([47, 154, 74], np.float64)
RED, GREY = np.array([190, 40, 44.0]), np.array([150, 150, 150.0])
ASIDE = np.cross(RED, GREEN) / np.linalg.norm(np.cross(RED, GREEN))
"""The direction in which nothing that red and green make can lie."""
SIZE = (150, 200)
CLOTHS = [
    (190, 40, 44), (50, 70, 180), (120, 96, 60), (170, 60, 160), (214, 164, 130),
    (60, 40, 90), (220, 200, 60), (90, 30, 30), (40, 120, 180), (230, 120, 40),
]  # fmt: skip


def palette(picture: np.ndarray, noise: float = 1.0, count: int = 6) -> Palette:
    """The hues that are found in glimpses of a picture (h, w, 3) before green, which moves, with noise."""
    rng = np.random.default_rng(3)
    frames = [np.roll(picture, 3 * i, 1) + rng.normal(0, noise, picture.shape) for i in range(count)]
    codes = np.clip(np.rint(frames), 0, 255).astype(np.uint8)
    plate = np.broadcast_to(GREEN, picture.shape).astype(np.float32)
    backing, axis = EvenPlate(plate, np.zeros(codes.shape[:3], bool), noise), HueAxis.of(GREEN)
    colours = find_colours(codes, backing, axis, Curve("codes"))
    return palette_of(cloths_of(colours.found, axis, ToldCloths()), colours.glow)


def with_patch(colour: np.ndarray, coat: np.ndarray | None = None, side: int = 30) -> np.ndarray:
    """A coat of 100 x 80 pixels, and a square of another colour below it."""
    picture = np.broadcast_to(GREEN, (*SIZE, 3)).copy()
    if coat is not None:
        picture[10:90, 30:130] = coat
    picture[100 : 100 + side, 40 : 40 + side] = colour
    return picture


def patchwork(colour: np.ndarray) -> np.ndarray:
    """Ten pieces of cloth, and a large one of a colour."""
    picture = np.broadcast_to(GREEN, (*SIZE, 3)).copy()
    for n, cloth in enumerate(CLOTHS):
        row, column = 10 + 28 * (n // 5), 10 + 32 * (n % 5)
        picture[row : row + 24, column : column + 28] = cloth
    picture[70:130, 20:150] = colour
    return picture


def nearest(told: Palette, colour: np.ndarray) -> float:
    """Degrees from a colour to the hue that is nearest to it."""
    cosine = told.hues @ (colour / np.linalg.norm(colour))
    return float(np.rad2deg(np.arccos(np.clip(cosine.max(), -1, 1))))


def waves(size: float, seed: int = 9) -> np.ndarray:
    """Folds of a size (sigma, pixels), of spread 1, all over a picture."""
    noise = np.random.default_rng(seed).normal(0, 1, SIZE).astype(np.float32)
    noise = cv2.GaussianBlur(noise, (0, 0), size) - cv2.GaussianBlur(noise, (0, 0), 2 * size)
    return np.asarray(noise / noise.std())[..., None]


def folded(cloth: np.ndarray) -> np.ndarray:
    """A picture in which cloth (h, w, 3) covers 80 x 110 pixels."""
    picture = np.broadcast_to(GREEN, (*SIZE, 3)).copy()
    picture[20:100, 40:150] = np.broadcast_to(cloth, picture.shape)[20:100, 40:150]
    return picture


@pytest.mark.parametrize(("side", "there"), [(20, True), (6, False)])
def test_a_badge_of_a_hundredth_of_the_figure_is_seen(side: int, there: bool) -> None:
    """A square of 20 x 20 has two hundred pixels well within it; of 6 x 6, none."""
    picture = np.broadcast_to(GREEN, (200, 260, 3)).copy()
    picture[15:180, 30:190] = GREY
    picture[60 : 60 + side, 80 : 80 + side] = RED
    told = palette(picture)
    assert (nearest(told, RED) < 4) is there


@pytest.mark.parametrize(("share", "cloth"), [(0.02, True), (0.1, True), (0.3, False)])
def test_what_has_a_third_of_the_backings_hue_is_no_cloth(share: float, cloth: bool) -> None:
    colour = 0.7 * GREY + share * GREEN
    told = palette(with_patch(colour, np.array([40, 60, 170.0])))
    assert (nearest(told, colour) < 3) is cloth


@pytest.mark.parametrize(("aside", "own"), [(0.02, False), (0.14, True)])
@pytest.mark.parametrize("share", [0.4, 0.5])
def test_a_colour_that_more_of_a_cloth_and_the_backing_make_is_no_other_cloth(
    share: float, aside: float, own: bool
) -> None:
    """Unless it lies aside of all that they make, by more than a fourteenth of its light."""
    mixed = (1 - share) * RED + share * GREEN
    colour = mixed + aside * np.linalg.norm(mixed) * ASIDE
    told = palette(with_patch(colour, RED))
    assert nearest(told, RED) < 1
    assert (nearest(told, colour) < 2) is own


@pytest.mark.parametrize(("depth", "own"), [(0.0, False), (0.3, True)])
def test_brown_beside_more_of_a_red_is_cloth_where_its_light_varies(depth: float, own: bool) -> None:
    """Red with a quarter of green; what one share of the green leaves of a flat red is of one light."""
    brown = 0.75 * RED + 0.25 * GREEN
    picture = with_patch(GREEN, RED)
    picture[95:145, 20:180] = (brown * (1 + depth * waves(1.5)))[95:145, 20:180]
    assert (nearest(palette(picture), brown) < 2) is own


@pytest.mark.parametrize(("depth", "veil"), [(10.0, True), (6.5, True), (3.0, False)])
def test_folds_must_be_deeper_than_the_noise(depth: float, veil: bool) -> None:
    cloth = 0.5 * RED + 0.5 * GREEN + depth * waves(4.0) * RED / np.linalg.norm(RED)
    told = palette(folded(cloth), noise=4.0)
    assert bool(told.through.any()) is veil
    if veil:
        assert told.through.max() == pytest.approx(0.5, abs=0.1)


@pytest.mark.parametrize(("aside", "veil"), [(0.03, True), (0.6, False)])
def test_a_veil_lies_between_the_hue_of_its_folds_and_the_backing(aside: float, veil: bool) -> None:
    """A pattern of red on cloth of another colour is no fold of red gauze."""
    mixed = 0.5 * RED + 0.5 * GREEN
    base = mixed + aside * np.linalg.norm(mixed) * ASIDE
    told = palette(folded(base + 6 * waves(4.0) * RED / np.linalg.norm(RED)))
    assert bool(told.through.any()) is veil


@pytest.mark.parametrize(("depth", "veil"), [(6.0, True), (40.0, False)])
def test_folds_as_steep_as_outlines_part_a_veil_and_tell_nothing(depth: float, veil: bool) -> None:
    base = 0.45 * RED + 0.55 * GREEN
    told = palette(folded(base + depth * waves(4.0) * RED / np.linalg.norm(RED)))
    assert bool(told.through.any()) is veil
    if veil:
        assert told.through.max() == pytest.approx(0.55, abs=0.08)


def test_what_a_coat_makes_thinly_is_gauze_unless_its_folds_are_solid() -> None:
    """A patch that red and green make, beside a red coat; once its folds are red, once of its own colour."""
    mixed = 0.5 * RED + 0.5 * GREEN
    weave = 10 * waves(0.9) * mixed / np.linalg.norm(mixed) + 16 * waves(4.0, seed=4) * RED / np.linalg.norm(
        RED
    )
    picture = with_patch(GREEN, RED, side=1)
    picture[95:145, 20:180] = (mixed + weave)[95:145, 20:180]
    assert nearest(palette(picture), mixed) > 4
    solid = (mixed + 10 * waves(4.0) * mixed / np.linalg.norm(mixed))[95:145, 20:180]
    picture[95:145, 20:180] = solid
    assert nearest(palette(picture), mixed) < 2


def test_the_noise_of_the_backing_is_no_figure_and_what_exceeds_it_is() -> None:
    noise = 6.0
    bare = palette(folded(GREEN), noise)
    assert bare.hues == pytest.approx(np.full((1, 3), 3**-0.5))
    brown = np.array([110, 100, 60.0])
    assert nearest(palette(folded(brown), 8.0), brown) < 4


def test_black_has_no_hue() -> None:
    told = palette(folded(np.array([2.0, 2, 2])))
    assert told.hues == pytest.approx(np.full((1, 3), 3**-0.5))


@pytest.mark.parametrize("times", [0.6, 0.8])
def test_a_shadow_on_the_backing_has_no_hue_beside_that_of_a_coat(times: float) -> None:
    told = palette(with_patch(times * GREEN, RED, side=48))
    assert np.linalg.norm(told.hues, axis=1) == pytest.approx(1)
    assert nearest(told, RED) < 2
