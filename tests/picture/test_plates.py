"""Plates: holes filled by push-pull, cut as the decoder cuts, what the key reads on them; twins in NumPy."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.ndimage import binary_erosion, generate_binary_structure, uniform_filter
from skimage.measure import block_reduce

from ghostprep.box import Box
from ghostprep.picture.key.chroma_plate import ChromaPlate
from ghostprep.picture.key.curve import Curve
from ghostprep.picture.key.difference import DifferenceKeyer, _own_colour
from ghostprep.picture.key.hue import HueAxis
from ghostprep.picture.key.plate import cut_to, fill_holes


def grown(small: np.ndarray) -> np.ndarray:
    """Twice as large (2h, 2w, c), linear between pixels' middles."""
    for axis in (0, 1):
        count = small.shape[axis]
        at = np.clip((np.arange(2 * count) + 0.5) / 2 - 0.5, 0, count - 1)
        low = np.minimum(at.astype(int), count - 2)
        part = np.expand_dims(at - low, tuple(a for a in range(3) if a != axis))
        small = np.take(small, low, axis) * (1 - part) + np.take(small, low + 1, axis) * part
    return small


def push_pull(values: np.ndarray, weight: np.ndarray) -> np.ndarray:
    """Four pixels make one, known as far as they are together; what is not is seen in smaller pictures."""
    if min(weight.shape) <= 2 or weight.min() >= 1:
        mean = (values * weight[..., None]).sum((0, 1)) / weight.sum()
        return np.where(weight[..., None] > 0, values, mean)
    mass, known = (block_reduce(x, (2, 2, 1)) for x in (values * weight[..., None], weight[..., None]))
    below = push_pull(mass / np.maximum(known, 1e-9), np.minimum(known[..., 0], 1))
    return np.asarray(values * weight[..., None] + grown(below) * (1 - weight[..., None]))


@pytest.mark.parametrize("seed", range(6))
def test_holes_are_filled_by_push_pull(seed: int) -> None:
    rng = np.random.default_rng(seed)
    weight = (rng.random((32, 48)) < 0.03 * (seed + 1)) * rng.choice([0.1, 0.5, 1], (32, 48))
    weight[4:12, 6:14], weight[20:30, 24:40] = 1, 0
    values = rng.uniform(0, 255, (32, 48, 3)) * (weight > 0)[..., None]
    filled = fill_holes(values.astype(np.float32), weight.astype(np.float32))
    assert filled == pytest.approx(push_pull(values, weight), abs=0.01)


@pytest.mark.parametrize("size", [(64, 48), (40, 31), (150, 110), (20, 15)])
@pytest.mark.parametrize("box", [None, Box(32, 24, 64, 48), Box(17, 9, 101, 71), Box(0, 0, 90, 50)])
@pytest.mark.parametrize("finer", [1, 0.5, 2])
def test_each_pixel_shows_the_place_in_the_source_that_the_decoders_does(
    size: tuple[int, int], box: Box | None, finer: float
) -> None:
    """A ramp, whose value at a pixel is the place in the source that its middle shows."""
    rows, columns = np.mgrid[: 96 * finer, : 128 * finer]
    picture = np.dstack([(columns + 0.5) / finer, (rows + 0.5) / finer]).astype(np.float32)
    got = cut_to(picture, box, (128, 96), size)
    assert got.shape == (size[1], size[0], 2)
    whole = box or Box(0, 0, 128, 96)
    across = whole.x + (np.arange(size[0]) + 0.5) * whole.width / size[0]
    down = whole.y + (np.arange(size[1]) + 0.5) * whole.height / size[1]
    inner = np.s_[size[1] // 8 : -size[1] // 8, size[0] // 8 : -size[0] // 8]
    wanted = np.dstack(np.meshgrid(across, down))
    # between a pixel's thirty-second parts OpenCV does not tell
    assert np.abs(got - wanted)[inner].max() < 0.1 / min(finer, 1)


def test_what_is_delivered_smaller_is_the_mean_of_what_it_shows() -> None:
    picture = np.random.default_rng(2).uniform(0, 255, (48, 64, 3)).astype(np.float32)
    found = cut_to(picture, Box(16, 12, 32, 24), (64, 48), (8, 6))
    assert found == pytest.approx(block_reduce(picture[12:36, 16:48], (4, 4, 1), np.mean), abs=1e-2)
    assert (cut_to(picture, None, (64, 48), (64, 48)) == picture).all()


def test_a_plates_key_is_its_chroma_along_the_hue_less_that_beside_it() -> None:
    rng = np.random.default_rng(3)
    light = (np.array([40, 160, 70]) + rng.normal(0, 25, (32, 48, 3))).astype(np.float32)
    axis = HueAxis.of(np.array([40, 160, 70]))
    small = ChromaPlate.of(light, axis, 4, Curve("codes")).small
    _, along, across = np.moveaxis(light @ axis.rows.T, -1, 0)
    luma = light @ (0.2126, 0.7152, 0.0722)  # ITU-R BT.709-6, item 3.2
    for got, each in (
        (small.key, along - 0.577 * np.abs(across)),
        (small.strict, axis.narrow(light)),
        (small.luma, luma),
    ):
        wanted = block_reduce(np.maximum(each, 1), (4, 4), np.mean)
        assert got == pytest.approx(wanted, rel=1e-3)


def keyer(noise: float, size: tuple[int, int] = (64, 48)) -> DifferenceKeyer:
    plate = np.random.default_rng(1).integers(60, 120, (size[1], size[0], 3)).astype(np.float32)
    return DifferenceKeyer.of(plate, np.full(plate.shape[:2], noise, np.float32))


@pytest.mark.parametrize(("noise", "counts"), [(0.1, 0.7), (0.7, 0.7), (2.0, 2.0), (5.0, 5.0)])
def test_a_frame_differs_from_the_plate_by_so_many_deviations(noise: float, counts: float) -> None:
    """Root of the mean square over the channels; noise of less than .7 codes is rounding's."""
    one = keyer(noise)
    frame = one.plate.astype(np.uint8)
    frame[8:24, 8:32] += np.array([3, 6, 12], np.uint8)
    level = one._level(frame, 1)
    assert level[10:20, 10:30] == pytest.approx(np.sqrt((9 + 36 + 144) / 3) / counts, rel=1e-4)
    assert level[30:, 40:] == pytest.approx(0)
    # means of squares over the blocks of the small picture
    half = one._level(frame, 2)
    assert half.shape == (24, 32)
    assert half[4:12, 4:16] == pytest.approx(np.sqrt(63) / counts, rel=1e-4)


@pytest.mark.parametrize(("all_over", "by"), [(0.8, 1.0), (1.5, 1.5), (5.0, 2.0)])
def test_what_most_of_a_frame_differs_by_is_its_noise_up_to_twice_the_usual(
    all_over: float, by: float
) -> None:
    one = keyer(4.0)
    frame = np.rint(one.plate + 4 * all_over).astype(np.uint8)
    frame[8:24, 8:32] += np.uint8(40)
    wanted = (round(4 * all_over) + 40) / 4 / by
    assert one._level(frame, 1)[10:20, 10:30] == pytest.approx(wanted, rel=1e-3)


def test_a_figures_colour_is_carried_over_its_edge() -> None:
    """By the mean of means of its inside; where there is none near, it is middle grey."""
    rng = np.random.default_rng(4)
    solid = np.zeros((50, 70), np.float32)
    solid[10:40, 15:50] = 1
    small = rng.integers(0, 256, (50, 70, 3), np.uint8)
    colour = _own_colour(np.repeat(np.repeat(small, 2, 0), 2, 1), solid)
    cross = generate_binary_structure(2, 1)
    inner = binary_erosion(solid, cross, border_value=0).astype(float)

    def wide(x: np.ndarray) -> np.ndarray:
        window = (5, 5) + (1,) * (x.ndim - 2)
        return np.asarray(uniform_filter(uniform_filter(x, window, mode="mirror"), window, mode="mirror"))

    mass, weight = wide(small * inner[..., None]), wide(inner)
    assert colour == pytest.approx((mass + 0.003 * 128) / (weight + 0.003)[..., None], rel=1e-3, abs=1e-2)
    assert colour[:3] == pytest.approx(128)
