"""A veil before a cluttered room: the room's detail that shows through it is taken out."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ghostprep.picture import learn_key
from ghostprep.picture.key.sheer import find_sheer
from ghostprep.transfer import codes_to_light, light_to_codes

SIZE = (320, 240)


def room(seed: int = 3) -> np.ndarray:
    """A wall with posters and planks: patches of many colours, codes (h, w, 3)."""
    rng = np.random.default_rng(seed)
    small = rng.integers(30, 150, (24, 32, 3)).astype(np.uint8)
    return cv2.resize(small, SIZE, interpolation=cv2.INTER_NEAREST)


def shot(plate: np.ndarray, x: int, thin: float, rng: np.random.Generator, linear: bool = True) -> np.ndarray:
    """A grey figure in a veil of share `thin`, which is on its left, mixed in light or codes, with noise."""
    cover = np.zeros((*SIZE[::-1], 1), np.float32)
    cover[50:230, x : x + 60] = 1
    cover[70:200, x - 60 : x] = thin
    colour = np.array([150, 150, 156], np.uint8)
    light = cover * codes_to_light(colour) + (1 - cover) * codes_to_light(plate)
    codes = light_to_codes(light) if linear else cover * colour + (1 - cover) * plate
    codes = codes + rng.normal(0, 1.5, codes.shape)
    return np.clip(np.rint(codes), 0, 255).astype(np.uint8)


@pytest.mark.parametrize("thin", [0.3, 0.45, 0.6])
def test_a_veil_lets_nothing_of_the_room_through(thin: float) -> None:
    rng, plate = np.random.default_rng(1), room()
    frames = [shot(plate, 90 + 8 * i, thin, rng) for i in range(16)]
    key = learn_key(frames, plate=plate)
    keyed = key.at(None, SIZE, SIZE)(frames[8])
    veil = (slice(84, 186), slice(104, 144))
    truth = codes_to_light(np.array([150, 150, 156], np.uint8)) * thin
    got, shown = codes_to_light(keyed.codes[veil]), codes_to_light(frames[8][veil])
    behind = codes_to_light(plate[veil])
    # of the room's pattern, and of its light, most is gone; the veil's own light is there
    pattern = np.std(behind) * (1 - thin)
    assert np.std(got - got.mean((0, 1))) < 0.45 * pattern
    assert np.abs(got.mean((0, 1)) - truth).max() < 0.6 * np.abs(shown.mean((0, 1)) - truth).max()
    assert keyed.matte[veil].mean() / 255 == pytest.approx(thin, abs=0.21)
    # what is solid stays so
    assert keyed.matte[90:190, 170:204].min() == 255
    np.testing.assert_array_equal(keyed.codes[90:190, 170:204], frames[8][90:190, 170:204])


def test_a_veil_is_the_same_cloth_before_a_plain_wall() -> None:
    """Where the room's detail ends, the veil goes on; a coat of another colour beside it stays whole."""
    rng, plate = np.random.default_rng(2), room()
    plate[130:] = (150, 90, 60)
    frames = [shot(plate, 90 + 8 * i, 0.45, rng) for i in range(16)]
    keyed = learn_key(frames, plate=plate).at(None, SIZE, SIZE)(frames[8])
    veil, coat = (slice(136, 160), slice(104, 144)), (slice(136, 190), slice(170, 204))
    truth = codes_to_light(np.array([150, 150, 156], np.uint8)) * 0.45
    got, shown = codes_to_light(keyed.codes[veil]).mean((0, 1)), codes_to_light(frames[8][veil]).mean((0, 1))
    assert np.abs(got - truth).max() < 0.4 * np.abs(shown - truth).max()
    np.testing.assert_array_equal(keyed.codes[coat], frames[8][coat])


@settings(deadline=None, max_examples=25)
@given(seed=st.integers(0, 2**32 - 1))
def test_cloth_with_a_pattern_of_its_own_is_not_sheer(seed: int) -> None:
    rng = np.random.default_rng(seed)
    ours, theirs = (
        cv2.resize(rng.uniform(5, 90, (20, 30, 3)).astype(np.float32), (120, 80)) for _ in range(2)
    )
    sheer = find_sheer(ours, theirs, np.ones((40, 60), np.bool_), np.ones((80, 120), np.float32))
    # a few places look alike by chance
    assert (sheer.sure > 0.5).mean() < 0.05


@pytest.mark.parametrize("linear", [True, False])
def test_a_lamps_glow_before_a_room_is_light_that_adds(linear: bool) -> None:
    rng, plate = np.random.default_rng(2), room()
    plate[:, 160:] = 90  # a plain wall tells nothing
    yy, xx = np.mgrid[:240, :320].astype(np.float32)
    glow = (0.3 * np.exp(-((xx - 160) ** 2 + (yy - 120) ** 2) / (2 * 16**2)))[..., None] * np.float32(
        [1, 0.8, 0.5]
    )
    added = light_to_codes(glow)
    lit = (
        light_to_codes(codes_to_light(plate) + glow) if linear else np.minimum(plate.astype(int) + added, 255)
    )

    def filmed(codes: np.ndarray) -> np.ndarray:
        return np.clip(np.rint(codes + rng.normal(0, 1, codes.shape)), 0, 255).astype(np.uint8)

    frames = [filmed(plate) for _ in range(8)]
    key = learn_key(frames, plate=plate, mix="light" if linear else "codes")
    keyed = key.at(None, SIZE, SIZE)(filmed(lit))
    near = added.max(-1) > 60
    apart = keyed.codes[near].astype(int) - added[near]
    assert np.abs(apart.mean(0)).max() < 6
    # of the room's pattern, which is 35 codes, nothing is left
    assert np.sqrt((apart**2).mean()) < 12
    assert keyed.matte[near].mean() < 25


def test_where_nothing_is_covered_nothing_is_sheer() -> None:
    plate = codes_to_light(room()) * np.float32(255)
    sheer = find_sheer(plate, plate, np.zeros((240, 320), np.bool_), np.ones((240, 320), np.float32))
    assert not sheer.sure.any()


def test_a_noisier_frame_stays_black() -> None:
    """A coder's first picture is noisier than those from which the plate's noise was learned."""
    rng, plate = np.random.default_rng(4), room()
    frames = [shot(plate, 90 + 8 * i, 1, rng) for i in range(16)]
    key = learn_key(frames, plate=plate)
    noisy = np.clip(plate + rng.normal(0, 2.6, plate.shape), 0, 255).astype(np.uint8)
    assert not key.at(None, SIZE, SIZE)(noisy).codes.any()


def test_where_a_coder_errs_in_few_of_the_glimpses_nothing_stays() -> None:
    """After a key frame a coder's errors are others: two glimpses of twelve tell the noise of a place."""
    rng, plate = np.random.default_rng(6), room()
    first, second = (rng.normal(0, 5, plate.shape) * (np.arange(320) > 160)[:, None] for _ in range(2))
    bare = [np.clip(np.rint(plate + error), 0, 255).astype(np.uint8) for error in [first] * 12 + [second] * 3]
    key = learn_key([*bare[:12], *bare[12:14]], plate=plate)
    assert not key.at(None, SIZE, SIZE)(bare[14]).codes.any()


def test_a_figure_of_the_places_own_luma_and_warmth_is_none_of_the_plate() -> None:
    rng, plate = np.random.default_rng(7), np.full((*SIZE[::-1], 3), 100, np.uint8)
    frames = [shot(plate, 40 + 12 * i, 0, rng, linear=False) for i in range(16)]
    for i, frame in enumerate(frames):  # green cloth; red and blue are less by the same, luma is 100 still
        frame[50:230, 40 + 12 * i : 100 + 12 * i] = (78, 109, 78)
    learned = learn_key(frames, kind="plate").plate
    assert learned is not None
    assert np.abs(learned[60:220, 60:260] - 100).max() < 4


def test_a_room_is_not_asked_to_be_even() -> None:
    rng, plate = np.random.default_rng(5), room()
    plate[:, 160:] //= 6
    frames = [shot(plate, 90 + 8 * i, 1, rng) for i in range(16)]
    said = [finding.text for finding in learn_key(frames, plate=plate).remarks]
    assert not [text for text in said if "brightest" in text]
