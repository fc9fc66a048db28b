"""The plate found in a clip: what stands still, how much it flickers, how often it is seen."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from ghostprep.picture.key.rough import RoughChromaKeyer, RoughPlateKeyer
from ghostprep.picture.learn.even import _on_surface, learn_even_plate
from ghostprep.picture.learn.still import find_still, stays_in_place

SIZE = (120, 80)
WALL = (92, 84, 70)
RNG = np.random.default_rng(11)


def filmed(sigma: float, count: int = 24, figure: tuple[int, int, int] = (190, 60, 40)) -> np.ndarray:
    """A wall, filmed with noise of one sigma, before which a block of 20 pixels walks from left to right."""
    frames = np.empty((count, SIZE[1], SIZE[0], 3), np.float32)
    frames[:] = WALL
    for i, frame in enumerate(frames):
        x = round(i * (SIZE[0] - 20) / (count - 1))
        frame[20:70, x : x + 20] = figure
    return np.clip(np.rint(frames + RNG.normal(0, sigma, frames.shape)), 0, 255).astype(np.uint8)


@pytest.mark.parametrize("sigma", [1.5, 3.0])
def test_a_walk_leaves_the_wall_its_noise_and_the_share_of_moments_it_is_seen(sigma: float) -> None:
    frames = filmed(sigma)
    still = find_still(frames)
    # the mean of 24 noisy pictures is off by a fifth of their noise
    assert np.abs(still.plate - WALL).mean() < 0.3 * sigma
    assert np.median(still.noise) == pytest.approx(sigma, rel=0.15)
    middle = still.seen[30:60, 30:90]
    # a block of 20 hides each place of the 100 that it crosses in a fifth of the pictures
    assert 0.65 < middle.mean() < 0.81
    assert still.seen[:10].min() > 0.8


def test_a_figure_of_the_walls_own_luma_is_no_wall() -> None:
    """Luma 85 both (ITU-R BT.601-7, item 2.5.1: 0.299, 0.587, 0.114), a colder colour."""
    cold = (62, 87, 135)
    assert np.dot(cold, (0.299, 0.587, 0.114)) == pytest.approx(np.dot(WALL, (0.299, 0.587, 0.114)), abs=1)
    still = find_still(filmed(1.0, figure=cold))
    assert np.abs(still.plate - WALL).max() < 6


def test_where_the_plate_was_never_seen_its_noise_is_that_of_edges() -> None:
    """A given plate of two halves: 3 codes, and more beside the steep step between them."""
    given = np.full((80, 120, 3), 60, np.float32)
    given[:, 60:] = 100
    other = np.full((6, 80, 120, 3), 220, np.uint8)
    still = find_still(other, given)
    assert not still.seen.any()
    np.testing.assert_array_equal(still.plate, given)
    assert still.noise[:, 20] == pytest.approx(3, abs=0.01)
    assert 8 < still.noise[40, 60] < 20


@pytest.mark.parametrize(("apart", "same"), [(7, True), (24, False)])
def test_what_lies_a_dozen_codes_off_is_something_else(apart: int, same: bool) -> None:
    still = find_still(filmed(0.5, figure=(WALL[0] + apart, WALL[1], WALL[2])))
    assert bool(still.seen[30:60, 30:90].mean() > 0.97) is same


@pytest.mark.parametrize(("times", "own"), [(2, False), (4, True)])
def test_what_was_seen_three_times_is_known_and_else_the_given_plate_is_taken(times: int, own: bool) -> None:
    given = np.full((60, 80, 3), 100, np.float32)
    frames = np.full((10, 60, 80, 3), 220, np.uint8)
    frames[:times] = 106
    still = find_still(frames, given)
    assert still.plate == pytest.approx(106 if own else 100)
    assert still.seen == pytest.approx(times / 10)


def test_the_commonest_look_is_that_which_most_moments_resemble() -> None:
    """Four moments within seven codes of each other, against three that are one and three that are apart."""
    frames = np.full((10, 40, 60, 3), 60, np.uint8)
    for n, code in enumerate((100, 103, 105, 106, 140, 170, 200)):
        frames[n] = code
    assert find_still(frames).plate == pytest.approx((100 + 103 + 105 + 106) / 4, abs=1)


def test_the_noise_told_has_bounds() -> None:
    """Still pictures have the noise of rounding at least; flicker at most 20 codes."""
    alike = np.full((6, 40, 60, 3), 90, np.uint8)
    assert find_still(alike).noise == pytest.approx(0.7)


def seen_but(never: float) -> np.ndarray:
    """A place of 40 x 100 pixels where something moves; in a part of it, within, it never makes room."""
    seen = np.ones((60, 140), np.float32)
    seen[10:50, 20:120] = 0.5
    seen[12:48, 22 : 22 + round(96 * never)] = 0.05
    return seen


@pytest.mark.parametrize("never", [0.1, 0.4, 0.9])
def test_how_much_of_what_moves_hides_what_is_behind_it(never: float) -> None:
    assert stays_in_place(seen_but(never)) == pytest.approx(36 * round(96 * never) / 4000, abs=0.02)


def test_a_body_that_never_moves_within_its_moving_outline_hides_what_is_behind_it() -> None:
    seen = seen_but(0)
    seen[14:46, 26:114] = 1.0  # it looks the same all the time: itself
    assert stays_in_place(seen) == pytest.approx(32 * 88 / 4000, abs=0.02)


def test_a_surface_is_laid_through_what_was_seen_of_the_backing_alone() -> None:
    """Where it was never seen there is nothing: black there would bend the surface."""
    frames = np.full((4, 60, 80, 3), (40, 160, 70), np.uint8)
    first = np.zeros((4, 60, 80), np.bool_)
    first[:, :, :30] = True
    assert _on_surface(frames, first)[:, :, :60].all()
    frames[:, 20:40, 10:16] = (70, 120, 90)  # a veil, taken for backing at first
    found = _on_surface(frames, first)
    assert not found[:, 20:40, 10:16].any()
    assert found[:, :, 20:60].all()


@pytest.mark.parametrize(("gap", "hides"), [(3, 32 * 88 / 4000), (9, 0.0)])
@pytest.mark.parametrize("upright", [True, False])
def test_a_moving_outline_is_whole_across_a_gap_of_four_pixels(gap: int, hides: float, upright: bool) -> None:
    seen = seen_but(0)
    seen[14:46, 26:114] = 1.0
    if upright:
        seen[30 : 30 + gap, 114:120] = 1.0
    else:
        seen[46:50, 70 : 70 + gap] = 1.0
    assert stays_in_place(seen) == pytest.approx(hides, abs=0.03)


def test_where_nothing_moves_the_figure_may_hide_everything() -> None:
    assert stays_in_place(np.ones((20, 30), np.float32)) == 1
    assert stays_in_place(np.full((20, 30), 0.84, np.float32)) == 0


def test_the_rough_matte_falls_evenly_between_its_two_shares() -> None:
    """Grey over green: the share of the backing's chroma that is left is 1 less the coverage."""
    plate = np.full((40, 60, 3), (40, 160, 70), np.float32)
    keyer = RoughChromaKeyer.of(plate)
    for cover, matte in ((0.1, 0), (0.3, 0.15 / 0.7), (0.5, 0.5), (0.75, 0.6 / 0.7), (0.9, 1)):
        grey = plate * (1 - cover) + cover * 128
        keyed = keyer(np.rint(grey).astype(np.uint8))
        assert keyed.matte[20, 30] == pytest.approx(255 * matte, abs=5), cover
        if matte:
            assert keyed.codes[20, 30] == pytest.approx(128 * cover, abs=3), cover


def test_a_rough_key_tells_what_lies_three_times_the_noise_from_a_plate() -> None:
    plate, noise = np.full((40, 60, 3), 90, np.float32), np.full((40, 60), 4, np.float32)
    keyer = RoughPlateKeyer.of(plate, noise)
    frame = np.full((40, 60, 3), 90, np.uint8)
    frame[10:30, 20:40] = 90 + 12  # three times 4
    assert not keyer(frame).matte.any()
    frame[10:30, 20:40] = 90 + 60
    keyed = keyer(frame)
    assert keyed.matte[12:28, 22:38].min() == 255
    assert keyed.codes[20, 30].tolist() == [150, 150, 150]
    # what lies half as far from the plate as the figure beside it is covered by about half
    frame[10:30, 20] = 90 + 36
    assert keyer(frame).matte[20, 20] == pytest.approx(255 / 2, abs=2)
    # the noise counts as one code at least: what lies two codes off is bare however quiet the plate
    quiet = RoughPlateKeyer.of(plate, np.zeros((40, 60), np.float32))
    frame[10:30, 20:40] = 93
    assert not quiet(frame).matte.any()


@pytest.mark.parametrize(("more", "there"), [(12, False), (14, True)])
def test_a_rough_matte_of_a_sixth_is_no_trace(more: int, there: bool) -> None:
    """Two codes beyond twelve that are bare: 42 of 255; of a trace there are sixteen at most."""
    keyer = RoughPlateKeyer.of(np.full((40, 60, 3), 90, np.float32), np.full((40, 60), 4, np.float32))
    frame = np.full((40, 60, 3), 90, np.uint8)
    frame[10:30, 20:40] = 90 + more
    assert bool(keyer(frame).matte[20, 30] == 42) is there
    assert bool(keyer(frame).matte.any()) is there


def test_single_pixels_and_traces_are_nothing_to_a_rough_key() -> None:
    plate = np.full((40, 60, 3), 20, np.float32)
    keyer = RoughPlateKeyer.of(plate, np.ones((40, 60), np.float32))
    frame = np.full((40, 60, 3), 20, np.uint8)
    frame[10, 10] = 220
    assert not keyer(frame).matte.any()


def test_an_even_plate_is_the_mean_of_what_was_seen_and_its_noise_that_of_a_channel() -> None:
    rng = np.random.default_rng(3)
    surface = 150 - 30 * np.linspace(-1, 1, 120, dtype=np.float32) ** 2
    plate = np.stack([surface * 0.3, surface, surface * 0.5], -1)[None].repeat(80, 0)
    for sigma in (2.0, 4.0):
        frames = plate + rng.normal(0, sigma, (12, 80, 120, 3))
        frames[:, 20:60, 50:70] = (180, 120, 100)  # a figure that stands
        codes = np.clip(np.rint(frames), 0, 255).astype(np.uint8)
        first = np.ones((12, 80, 120), np.bool_)
        first[:, 20:60, 50:70] = False
        even = learn_even_plate(codes, first, blur=2)
        assert even.noise == pytest.approx(sigma, rel=0.15)
        bare = ~cv2.dilate((~first[0]).astype(np.uint8), np.ones((13, 13), np.uint8)).astype(bool)
        assert np.abs(even.plate - plate)[bare].max() < 2
        assert even.empty[:, bare].mean() > 0.98
        # three pixels around what was not found are left out as well, for the figure's soft edge
        assert not even.empty[:, 30:50, 47:73].any()
        assert even.empty[:, 30:50, :44].mean() > 0.98
        # behind the figure it is guessed from around it
        assert np.abs(even.plate - plate)[40, 60].max() < 12
