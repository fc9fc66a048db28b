"""The key's parts, each against something outside the project."""

import colour
import cv2
import numpy as np
import pytest
import skimage.transform
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from scipy.ndimage import uniform_filter

from ghostprep.box import Box
from ghostprep.errors import InputError
from ghostprep.picture import learn_key
from ghostprep.picture.key.backing import Mix
from ghostprep.picture.key.bare import Small
from ghostprep.picture.key.curve import Curve
from ghostprep.picture.key.guided import through, windows
from ghostprep.picture.key.hue import HueAxis, like, luma_chroma
from ghostprep.picture.key.plate import cut_to, fill_holes
from ghostprep.picture.learn.even import learn_even_plate
from ghostprep.transfer import rounded


def test_chroma_is_that_of_bt709() -> None:
    # ITU-R BT.709-6, items 3.2 and 3.3, as colour-science has it
    codes = np.random.default_rng(0).integers(0, 256, (50, 3))
    weights = colour.WEIGHTS_YCBCR["ITU-R BT.709"]
    theirs = colour.RGB_to_YCbCr(codes / 255, K=weights, out_range=(0, 1, -0.5, 0.5)) * 255
    assert np.allclose(luma_chroma(codes), theirs, atol=1e-3)


@given(st.floats(0, 2 * np.pi), st.floats(20, 60))
@settings(deadline=None, max_examples=40)
def test_the_key_reads_any_hue_alike(angle: float, chroma: float) -> None:
    cb, cr = chroma * np.cos(angle), chroma * np.sin(angle)
    luma = 128.0
    r, b = luma + 1.5748 * cr, luma + 1.8556 * cb
    g = (luma - 0.2126 * r - 0.0722 * b) / 0.7152
    axis = HueAxis.of(np.array([r, g, b]))
    row = np.float32([[[r, g, b], [2 * luma - r, 2 * luma - g, 2 * luma - b], [luma, luma, luma]]])
    own, opposite, grey = Small.of(row, axis).key[0]
    assert own == pytest.approx(chroma, rel=1e-3)
    assert max(opposite, 0) == 0
    assert grey == pytest.approx(0, abs=1e-3)


def test_a_grey_has_no_hue() -> None:
    with pytest.raises(ValueError, match="no hue"):
        HueAxis.of(np.array([90, 90, 90]))


def test_guided_filter_is_that_of_the_paper() -> None:
    # He, Sun, Tang 2010, equations 5, 6 and 8, with scipy's box filter
    rng = np.random.default_rng(4)
    guide = rng.integers(0, 256, (40, 50), dtype=np.uint8)
    key = rng.random((40, 50)).astype(np.float32)

    def mean(x: np.ndarray) -> np.ndarray:
        return uniform_filter(x, 7, mode="reflect")

    g = guide.astype(np.float64)
    a = (mean(g * key) - mean(g) * mean(key)) / (mean(g * g) - mean(g) ** 2 + 30)
    b = mean(key) - a * mean(g)
    inner = slice(8, -8)
    theirs = (mean(a) * g + mean(b))[inner, inner]
    smooth = through(guide, *windows(guide.astype(np.float32), key, 3, 30.0))
    assert np.allclose(smooth[inner, inner], theirs, atol=2e-3)


@pytest.mark.parametrize(("reach", "epsilon", "doubt"), [(2, 30.0, 0.015), (1, 5.0, 0.2)])
def test_where_the_guide_explains_little_the_key_is_taken_itself(
    reach: int, epsilon: float, doubt: float
) -> None:
    """By the share of a Wiener filter: what is left unexplained, over that and the doubt."""
    rng = np.random.default_rng(4)
    guide = rng.uniform(0, 255, (40, 50)).astype(np.float32)
    key = (0.5 + 0.002 * (guide - 128) + rng.normal(0, 0.2, guide.shape)).astype(np.float32)

    def mean(x: np.ndarray) -> np.ndarray:
        return uniform_filter(x.astype(float), 2 * reach + 1, mode="reflect")

    covariance = mean(guide * key) - mean(guide) * mean(key)
    a = covariance / (mean(guide * guide) - mean(guide) ** 2 + epsilon)
    b = mean(key) - a * mean(guide)
    left = np.maximum(mean(key * key) - mean(key) ** 2 - a * covariance, 0)
    trust = left / (left + doubt)
    gain, offset = windows(guide, key, reach, epsilon, doubt)
    inner = np.s_[6:-6, 6:-6]
    assert gain[inner] == pytest.approx((mean(a) * (1 - trust))[inner], abs=1e-4)
    assert offset[inner] == pytest.approx((mean(b) * (1 - trust) + key * trust)[inner], abs=2e-3)
    plain = windows(guide, key, reach, epsilon)
    assert plain[0][inner] == pytest.approx(mean(a)[inner], abs=1e-4)


@pytest.mark.parametrize("mix", ["light", "codes", None])
def test_every_code_survives_the_mix(mix: Mix | None) -> None:
    every, curve = np.arange(256, dtype=np.uint8).reshape(16, 16), Curve(mix)
    assert np.array_equal(rounded(curve.figure(curve.amounts(every))), every)


def test_the_mix_that_nobody_told_lies_between_light_and_codes() -> None:
    """Half and half of black and white: 128 among codes, 188 in light (sRGB)."""
    middles = [
        int(rounded(Curve(mix).figure(np.full((1, 1), 127.5, np.float32)))[0, 0])
        for mix in ("codes", None, "light")
    ]
    assert middles == [128, 146, 188]


def test_code_mix_is_porter_and_duffs_over() -> None:
    # Porter, Duff, "Compositing Digital Images", 1984; as Pillow does it in 8 bits
    figure, plate, alpha = (200, 50, 25), (0, 255, 0), 128
    over = Image.alpha_composite(
        Image.new("RGBA", (1, 1), (*plate, 255)), Image.new("RGBA", (1, 1), (*figure, alpha))
    )
    c = Curve("codes").amounts(np.array([[over.getpixel((0, 0))[:3]]], np.uint8))
    got = rounded(Curve("codes").figure(c - (1 - alpha / 255) * np.array(plate, np.float32)))
    assert np.abs(got[0, 0].astype(int) - np.array(figure) * alpha / 255).max() <= 1


def test_matte_agrees_with_two_backings(shoot) -> None:
    # Smith, Blinn, "Blue Screen Matting", SIGGRAPH 1996, theorem 4: one figure before two known backings
    green = shoot((40, 160, 70), linear=False, sigma=0, uneven=0)
    blue = shoot((36, 70, 185), linear=False, sigma=0, uneven=0)
    apart = green.plate.astype(float) - blue.plate
    seen = green.frames[4].astype(float) - blue.frames[4]
    theirs = 1 - (seen * apart).sum(-1) / (apart * apart).sum(-1)
    ours = learn_key(list(green.frames)).at(None, (240, 180), (240, 180))(green.frames[4]).matte / 255
    assert np.abs(ours - theirs).mean() < 0.006


@given(st.integers(1, 40), st.integers(1, 40), st.floats(0.02, 1), st.integers(0, 9))
@settings(deadline=None, max_examples=30)
def test_holes_are_filled_within_the_range_of_what_is_known(h: int, w: int, share: float, seed: int) -> None:
    rng = np.random.default_rng(seed)
    known = (rng.random((h, w)) < share).astype(np.float32)
    known[rng.integers(h), rng.integers(w)] = 1
    values = (rng.random((h, w, 2)) * 100 + 50).astype(np.float32)
    full = fill_holes(values * known[..., None], known)
    assert np.allclose(full[known == 1], values[known == 1], atol=1e-3)
    assert full.min() > 49
    assert full.max() < 151


@pytest.mark.parametrize("size", [(64, 48), (128, 96), (40, 30)])
def test_cut_is_where_the_decoder_cuts(size: tuple[int, int]) -> None:
    yy, xx = np.mgrid[:96, :128].astype(np.float32)
    ramp = np.dstack([xx, yy, xx + yy])
    box = Box(32, 24, 64, 48)
    theirs = skimage.transform.resize(ramp[24:72, 32:96], size[::-1], order=1, anti_aliasing=False)
    ours = cut_to(ramp, box, (128, 96), size)
    inner = slice(3, -3)
    assert np.abs(ours[inner, inner] - theirs[inner, inner]).max() < 0.3
    # a plate of half the size shows the same places
    half = cv2.resize(ramp, (64, 48), interpolation=cv2.INTER_AREA)
    assert np.abs(cut_to(half, box, (128, 96), size)[inner, inner] - theirs[inner, inner]).max() < 0.6


def test_the_plate_is_learned_behind_the_figure(shoot) -> None:
    shot = shoot((40, 160, 70), (122, 126, 62), uneven=0.3)
    even = learn_even_plate(shot.frames, like(shot.frames, np.float32([40, 160, 70])), blur=3)
    assert np.abs(even.plate - shot.plate).mean() < 1
    assert even.noise == pytest.approx(2, rel=0.3)
    assert not even.empty[shot.mattes > 0.3].any()


@pytest.mark.parametrize("share", [0.35, 0.15])
def test_a_veil_that_never_leaves_the_middle_is_no_backing(share: float, shoot) -> None:
    shot = shoot((40, 160, 70), (122, 126, 62), uneven=0.1)
    frames = shot.frames.copy()
    h, w = frames.shape[1:3]
    for i, frame in enumerate(frames):
        veil = cv2.circle(np.zeros((h, w), np.float32), (w // 2 + 3 * i, h // 2), h // 4, share, -1)[
            ..., None
        ]
        frame[:] = np.rint(frame * (1 - veil) + veil * np.float32([60, 40, 15]))
    even = learn_even_plate(frames, like(frames, np.float32([40, 160, 70])), blur=3)
    assert np.abs(even.plate - shot.plate).max() < 8
    assert not even.empty[:, h // 2, w // 2].any()


def test_a_told_mix_is_taken_and_said(shoot) -> None:
    shot = shoot((40, 160, 70), (200, 120, 90), uneven=0.1)
    frames = list(shot.frames)
    for mix in ("light", "codes"):
        key = learn_key(frames, mix=mix)
        assert key.backing.mix == mix
        assert key.backing.found.endswith(f"; mixed in {mix}")
    open_key = learn_key(frames)
    assert (open_key.backing.mix, open_key.backing.found) == (None, open_key.backing.reason)
    with pytest.raises(InputError, match="unknown mix 'paint'; use one of auto, light, codes"):
        learn_key(frames, mix="paint")


GREEN, BLUE = (47, 154, 74), (39, 70, 168)
