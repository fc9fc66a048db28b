"""Limits of what is learned, each from both sides: an even plate, a given one, told colours, marks."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from ghostprep.errors import InputError
from ghostprep.picture.key.hue import LUMA_CB_CR
from ghostprep.picture.learn.before_scene import _check_shape
from ghostprep.picture.learn.even import _mean_plate, _without_rim, learn_even_plate
from ghostprep.picture.learn.learn import _of_hue, told_colour
from ghostprep.picture.learn.plate_match import _gains, _way, matched
from ghostprep.picture.learn.remarks_outside import on_marks
from ghostprep.transfer import codes_to_light, light_to_codes

GREEN = np.array([40, 160, 70.0])
SIZE = (90, 120)


def noisy(picture: np.ndarray, sigma: float, count: int = 8) -> np.ndarray:
    noise = np.random.default_rng(3).normal(0, sigma, (count, *picture.shape))
    return np.clip(np.rint(picture[None] + noise), 0, 255).astype(np.uint8)


@pytest.mark.parametrize(
    ("more", "sigma", "backing"),
    [(5, 0.5, True), (13, 0.5, False), (13, 4.0, True), (30, 4.0, False)],
)
def test_what_lies_within_eight_codes_or_thrice_the_noise_of_an_even_plate_is_backing(
    more: float, sigma: float, backing: bool
) -> None:
    """Of the largest of three channels' noise, which lies at 1.27 sigma."""
    picture = np.broadcast_to(GREEN, (*SIZE, 3)).copy()
    picture[30:60, 40:80, 0] += more
    frames = noisy(picture, sigma)
    even = learn_even_plate(frames, np.ones(frames.shape[:3], bool), blur=2, rim=3)
    assert even.noise == pytest.approx(max(sigma, 0.78), rel=0.3)  # a median of codes, rounded
    share = even.empty[:, 40:50, 55:65].mean()
    assert share > 0.9 if backing else share < 0.35
    assert even.empty[:, :20].mean() > 0.97


@pytest.mark.parametrize(("times", "known"), [(1, 0.5), (2, 1.0), (4, 1.0)])
def test_what_was_seen_twice_is_known(times: int, known: float) -> None:
    """Seen once, it counts by half, and its surroundings for the rest."""
    frames = np.full((4, *SIZE, 3), 100, np.uint8)
    frames[:, 44, 52] = 200
    empty = np.ones((4, *SIZE), bool)
    empty[times:, 44, 52] = False
    plate = _mean_plate(frames, empty, 0.1)
    assert plate[44, 52].mean() == pytest.approx(100 + 100 * known, abs=15 if known < 1 else 1e-3)
    assert plate[10:30] == pytest.approx(100)


@pytest.mark.parametrize("rim", [3, 7])
def test_what_was_found_is_made_smaller_by_a_disc_but_not_by_specks(rim: int) -> None:
    empty = np.zeros((1, *SIZE), bool)
    empty[0, 20:70, 30:90] = True
    empty[0, 40, 60] = empty[0, 41, 61] = False
    empty[0, 5, 5] = True
    found = _without_rim(empty, rim)[0]
    rows, columns = np.flatnonzero(found.any(1)), np.flatnonzero(found.any(0))
    less = rim // 2
    assert (rows[0], rows[-1], columns[0], columns[-1]) == (20 + less, 69 - less, 30 + less, 89 - less)
    assert found[24:66, 34:86].all()
    # the picture's border is no rim
    assert _without_rim(np.ones((1, *SIZE), bool), rim).all()


def wall(low: int = 60, high: int = 150) -> np.ndarray:
    small = np.random.default_rng(3).integers(low, high, (9, 12, 3)).astype(np.uint8)
    picture = cv2.resize(small, SIZE[::-1], interpolation=cv2.INTER_NEAREST)
    return cv2.GaussianBlur(picture, (0, 0), 1)


@pytest.mark.parametrize(("gain", "told"), [(1.02, 1.0), (1.06, 1.06), (0.94, 0.94)])
def test_a_thirtieth_more_light_is_another_exposure(gain: float, told: float) -> None:
    shot = light_to_codes(codes_to_light(wall()) * np.float32(gain))
    match = matched(wall().astype(np.float32), np.stack([shot] * 6))
    assert match.gain == pytest.approx(told, abs=0.015)
    if told == 1:
        assert match.gain == 1
    assert match.moved == 0


@pytest.mark.parametrize(("flickers", "told"), [(5, True), (16, False)])
def test_where_it_flickers_by_ten_codes_nothing_is_told(flickers: int, told: bool) -> None:
    shot = light_to_codes(codes_to_light(wall()) * np.float32(1.3)).astype(int)
    frames = np.stack([shot + flickers * (-1) ** n for n in range(8)] + [shot]).astype(np.uint8)
    assert (matched(wall().astype(np.float32), frames).gain != 1) is told


@pytest.mark.parametrize(("columns", "told"), [(10, False), (24, True)])
def test_a_tenth_of_the_picture_must_rest(columns: int, told: bool) -> None:
    frames = np.random.default_rng(2).integers(0, 255, (8, *SIZE, 3)).astype(np.uint8)
    frames[:, :, :columns] = light_to_codes(codes_to_light(wall()) * np.float32(1.3))[:, :columns]
    assert (matched(wall().astype(np.float32), frames).gain != 1) is told


@pytest.mark.parametrize(("low", "high"), [(18, 30), (60, 150)])
def test_dim_places_tell_the_light_and_what_is_cut_off_does_not(low: int, high: int) -> None:
    picture = wall(low, high)
    usual = light_to_codes(codes_to_light(picture) * np.float32(1.5))
    usual[: SIZE[0] * 2 // 3] = 255  # two thirds are lost in white
    picture[: SIZE[0] * 2 // 3] = 240
    every = np.ones(SIZE, bool)
    assert _gains(picture, usual, every) == pytest.approx(1.5, rel=0.08)
    # blacks tell as little
    usual[: SIZE[0] * 2 // 3] = 9
    picture[: SIZE[0] * 2 // 3] = 3
    assert _gains(picture, usual, every) == pytest.approx(1.5, rel=0.08)


@pytest.mark.parametrize(("rows", "told"), [(5, False), (15, True)])
def test_a_tenth_of_it_must_tell_the_light(rows: int, told: bool) -> None:
    picture, usual = (np.full((*SIZE, 3), code, np.uint8) for code in (255, 255))
    picture[:rows] = 100
    usual[:rows] = 140
    gains = _gains(picture, usual, np.ones(SIZE, bool))
    assert bool((gains != 1).all()) is told


@pytest.mark.parametrize(("larger", "same_view"), [(1.05, True), (1.3, False)])
def test_a_corner_that_moves_by_an_eighth_of_the_width_shows_another_view(
    larger: float, same_view: bool
) -> None:
    big = cv2.GaussianBlur(
        np.random.default_rng(5).integers(0, 255, (240, 320)).astype(np.float32), (0, 0), 9
    )
    big = (big - big.mean()) / big.std() * 40 + 120
    turn = cv2.getRotationMatrix2D((160, 120), 0, larger)
    closer = cv2.warpAffine(big, turn, (320, 240), borderMode=cv2.BORDER_REFLECT)
    found = _way(closer, big, np.ones((240, 320), np.uint8))
    assert (found is not None) is same_view
    if found is not None:
        assert found[0, 0] == pytest.approx(larger, abs=0.004)


@pytest.mark.parametrize(("wide", "fits"), [(1.0, True), (1.015, True), (1.03, False), (0.97, False)])
def test_a_picture_of_another_shape_is_refused(wide: float, fits: bool) -> None:
    given = (900, round(1600 * wide), 3)
    if fits:
        _check_shape(given, (640, 360))
        return
    with pytest.raises(InputError, match="times as wide as high"):
        _check_shape(given, (640, 360))


def test_what_is_nearly_grey_cannot_be_told_from_the_figure() -> None:
    colour = told_colour("#809088")
    assert colour is not None
    assert colour.tolist() == [128, 144, 136]
    with pytest.raises(InputError, match="#808f88 is grey"):
        told_colour("#808f88")
    assert told_colour("green") is None


@pytest.mark.parametrize(
    ("along", "across", "alike"),
    [(9, 0, False), (15, 0, True), (80, 0, True), (40, 16, True), (40, -16, True), (40, 24, False)],
)
def test_a_hue_is_told_from_a_dozen_codes_of_chroma_on(along: float, across: float, alike: bool) -> None:
    """Within a quarter of a right angle and a little."""
    cb, cr = LUMA_CB_CR[1:] @ GREEN / np.linalg.norm(LUMA_CB_CR[1:] @ GREEN)
    chroma = (128, along * cb - across * cr, along * cr + across * cb)
    colour = np.linalg.inv(LUMA_CB_CR) @ chroma
    assert bool(_of_hue(np.float32(colour)[None, None], GREEN)[0, 0]) is alike


@pytest.mark.parametrize(
    ("wide", "high", "mark"), [(2, 2, False), (3, 3, True), (12, 20, True), (15, 24, False)]
)
def test_a_mark_has_six_pixels_and_a_thirtieth_of_the_figure_at_most(
    wide: int, high: int, mark: bool
) -> None:
    matte = np.zeros((180, 240), np.uint8)
    matte[20:160, 80:140] = 255
    matte[40 : 40 + high, 190 : 190 + wide] = 255
    assert bool(on_marks([matte] * 4)) is mark
