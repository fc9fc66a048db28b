"""The key against a plate on drawn frames with known coverage: solid, soft, faint, and seen through."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from ghostprep.picture.key.curve import Curve
from ghostprep.picture.key.difference import DifferenceKeyer
from ghostprep.transfer import codes_to_light, light_to_codes


def room(size: tuple[int, int], light: int = 100, detail: int = 0) -> np.ndarray:
    """A wall, with patches of light and dark; codes (h, w, 3)."""
    rng = np.random.default_rng(2)
    patches = light + rng.uniform(-detail, detail, (size[1] // 6, size[0] // 6, 1)).repeat(3, -1)
    wall = cv2.resize(patches.astype(np.float32), size, interpolation=cv2.INTER_NEAREST)
    return np.rint(cv2.GaussianBlur(wall, (0, 0), 0.7)).astype(np.float32)


def cover(size: tuple[int, int], soft: float, at: tuple[float, float] = (0.5, 0.5)) -> np.ndarray:
    """A disc a quarter as wide as the picture, with a soft edge (sigma, pixels); 0..1 (h, w, 1)."""
    w, h = size
    flat = cv2.circle(np.zeros((h, w), np.float32), (round(at[0] * w), round(at[1] * h)), w // 8, 1.0, -1)
    return cv2.GaussianBlur(flat, (0, 0), soft)[..., None]


def keyer(plate: np.ndarray, noise: float = 1.5, mix: Curve | None = None) -> DifferenceKeyer:
    return DifferenceKeyer.of(plate, np.full(plate.shape[:2], noise, np.float32), mix)


def mixed(alpha: np.ndarray, figure: np.ndarray | float, plate: np.ndarray) -> np.ndarray:
    return np.rint(alpha * figure + (1 - alpha) * plate).astype(np.uint8)


@pytest.mark.parametrize(("size", "off"), [((240, 180), 0.1), ((640, 480), 0.05)])
@pytest.mark.parametrize("at", [(0.5, 0.5), (0.8, 0.75), (0.15, 0.2)])
def test_a_soft_edge_is_covered_as_far_as_it_is(
    size: tuple[int, int], off: float, at: tuple[float, float]
) -> None:
    """An edge of five pixels; on a small picture most of it passes for solid."""
    plate, alpha = room(size), cover(size, 1.5, at)
    keyed = keyer(plate)(mixed(alpha, np.array([220, 180, 150]), plate))
    edge = (alpha[..., 0] > 0.1) & (alpha[..., 0] < 0.9)
    assert np.abs(keyed.matte / 255 - alpha[..., 0])[edge].mean() < off
    assert keyed.matte[alpha[..., 0] > 0.999].min() == 255
    assert not keyed.matte[cv2.dilate(alpha[..., 0], np.ones((13, 13))) == 0].any()
    # the light that is left is the figure's alone
    assert np.abs(keyed.codes[edge] - (alpha * (220, 180, 150))[edge]).mean() < 100 * off
    assert np.abs(keyed.codes - alpha * (220, 180, 150)).mean() < 0.5


@pytest.mark.parametrize("contrast", [10, 16, 40])
def test_within_a_figure_that_hardly_differs_its_surroundings_decide(contrast: int) -> None:
    """Ten codes are less than what tells coverage, yet seven times the noise."""
    plate, alpha = room((240, 180)), cover((240, 180), 0.6)
    keyed = keyer(plate)(mixed(alpha, 100 + contrast, plate))
    assert keyed.matte[cv2.erode(alpha[..., 0], np.ones((9, 9))) > 0.99].min() == 255
    assert keyed.codes[90, 120] == pytest.approx(100 + contrast)


@pytest.mark.parametrize(("contrast", "there"), [(2, False), (6, False), (24, True)])
def test_what_differs_by_less_than_four_times_its_noise_is_not_solid(contrast: int, there: bool) -> None:
    """Noise of four codes: at 6 there is nothing."""
    plate, alpha = room((240, 180)), cover((240, 180), 0.6)
    keyed = keyer(plate, noise=4)(mixed(alpha, 100 + contrast, plate))
    assert bool(keyed.matte[90, 120] == 255) is there
    assert bool(keyed.matte.any()) is there


def veiled(
    linear: bool, thin: float, size: tuple[int, int], at: tuple[float, float]
) -> tuple[np.ndarray, ...]:
    """A frame with gauze before a room, the gauze's own light in codes, its coverage, and the room."""
    plate, there = room(size, 100, 60), cover(size, 0.6, at)
    own = np.array([60, 50, 70.0])
    if linear:
        own_light = codes_to_light(own.astype(np.uint8))
        light = there * (own_light + thin * codes_to_light(plate.astype(np.uint8))) + (
            1 - there
        ) * codes_to_light(plate.astype(np.uint8))
        frame = light_to_codes(light.astype(np.float32))
    else:
        frame = np.rint(there * (own + thin * plate) + (1 - there) * plate).astype(np.uint8)
    return frame, own, there[..., 0], plate


@pytest.mark.parametrize("linear", [True, False])
@pytest.mark.parametrize("at", [(0.5, 0.5), (0.75, 0.7), (0.2, 0.3)])
def test_what_shows_through_gauze_is_taken_out_wherever_it_hangs(
    linear: bool, at: tuple[float, float]
) -> None:
    frame, own, there, plate = veiled(linear, 0.5, (320, 240), at)
    keyed = keyer(plate, mix=Curve("light" if linear else "codes"))(frame)
    inner = cv2.erode(there, np.ones((15, 15))) > 0.99
    assert keyed.codes[inner].mean(0) == pytest.approx(own, abs=6)
    assert keyed.matte[inner].mean() / 255 == pytest.approx(0.5, abs=0.07)


def test_between_strands_of_one_colour_the_room_shows_and_a_motley_cloth_stays_whole() -> None:
    """Both differ from the room all over; between strands, colours lie between their own and the room's."""
    size = (640, 480)
    plate, disc = room(size), cover(size, 0.6) > 0.5
    strands = disc & (np.arange(size[0]) % 16 < 6)[None, :, None]
    alpha = cv2.GaussianBlur(strands.astype(np.float32), (0, 0), 1.2)[..., None]
    middle = cv2.erode(disc.astype(np.uint8), np.ones((41, 41), np.uint8)) > 0
    keyed = keyer(plate)(mixed(alpha, np.array([210, 60, 40]), plate))
    apart = keyed.matte / 255 - alpha[..., 0]
    assert np.abs(apart[middle]).mean() < 0.08

    squares = np.indices(size[::-1]).sum(0)[..., None] // 12 % 2
    motley = np.where(squares == 1, [210, 60, 40], [30, 90, 200])
    keyed = keyer(plate)(mixed(disc, motley, plate))
    assert np.mean(keyed.matte[middle] > 250) > 0.97


@pytest.mark.parametrize(
    ("side", "codes", "there"), [(4, 9, False), (8, 9, False), (4, 60, True), (40, 9, True)]
)
def test_a_speck_is_noise_and_a_spark_or_a_faint_cloth_is_none(side: int, codes: int, there: bool) -> None:
    """Noise of 1.5 codes: the speck of four to eight pixels lies six sigma off the plate, the spark forty."""
    plate = room((640, 480))
    frame = plate.copy()
    frame[240 : 240 + side, 320 : 320 + side] += codes
    keyed = keyer(plate)(np.rint(frame).astype(np.uint8))
    assert bool(keyed.matte.any()) is there


@pytest.mark.parametrize("wall", [30, 60])
def test_a_dark_fold_is_as_solid_as_its_cloth(wall: int) -> None:
    """It lies between the cloth and a dark wall, but on the way from the cloth to black."""
    size = (640, 480)
    plate, disc = room(size, wall), cover(size, 0.6) > 0.5
    folds = 0.7 + 0.3 * np.cos(np.arange(size[0]) / 8)[None, :, None]
    keyed = keyer(plate)(mixed(disc, folds * [70, 100, 190], plate))
    middle = cv2.erode(disc.astype(np.uint8), np.ones((41, 41), np.uint8)) > 0
    assert np.mean(keyed.matte[middle] > 230) > 0.9
