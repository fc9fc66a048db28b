"""A lamp's glow before an even backing: one hue of light that is added and hides nothing."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ghostprep.picture import learn_key
from ghostprep.picture.key.curve import Curve
from ghostprep.picture.key.falloff import darkened, only_adds
from ghostprep.picture.key.hue import HueAxis
from ghostprep.picture.key.palette import AgainstPlate, Palette
from ghostprep.picture.key.unmix import Unmixed, Unmixer
from ghostprep.picture.learn.lamp import find_lamp_glow

CODES = Curve("codes")
SIZE = (160, 120)
BACK = np.float32([30, 160, 60])


def glow(hue: tuple[float, float, float], x: float = 100, peak: float = 90, wide: float = 14) -> np.ndarray:
    """Return the light (h, w, 3) of a lamp at x, 60."""
    yy, xx = np.mgrid[: SIZE[1], : SIZE[0]].astype(np.float32)
    return peak * np.exp(-((xx - x) ** 2 + (yy - 60) ** 2) / (2 * wide**2))[..., None] * np.float32(hue)


def seen(light: np.ndarray, noise: float = 1.0, seed: int = 3) -> np.ndarray:
    """Return a glimpse of it before the backing, with somebody in grey beside it."""
    frame = BACK + light
    frame[20:110, 30:60] = 120
    noisy = frame + noise * np.random.default_rng(seed).standard_normal(frame.shape)
    return np.float32(noisy.clip(0, 255))


def back() -> np.ndarray:
    return np.broadcast_to(BACK, (SIZE[1], SIZE[0], 3)).copy()


@given(
    hue=st.tuples(*[st.floats(0.05, 1)] * 3).filter(lambda h: max(h) > 0.5),
    peak=st.floats(40, 90),
    wide=st.floats(9, 18),
)
@settings(max_examples=25, deadline=None)
def test_its_hue_is_found_whatever_it_is(hue: tuple[float, float, float], peak: float, wide: float) -> None:
    lights = [seen(glow(hue, x=90 + 4 * i, peak=peak, wide=wide), seed=i) for i in range(6)]
    found = find_lamp_glow(lights, back(), 4.0, CODES)
    assert found is not None
    length = float(np.linalg.norm(hue))
    assert found.hue @ np.float32(hue) / length > 0.995
    assert found.brightest == pytest.approx(peak * length, rel=0.15, abs=5)


def test_a_drawn_edge_before_an_exact_backing_is_no_lamp_s() -> None:
    """A bright box of whole pixels, as programs draw it: a blur reaches past it, where nothing is."""
    frame = back()
    frame[30:90, 60:76] = 230
    assert find_lamp_glow([frame], back(), 4.0, CODES) is None
    drawn = frame.astype(np.uint8)
    key = learn_key([drawn]).at(None, SIZE, SIZE)
    assert (key(drawn).codes[32:88, 62:74] == 230).all()


def test_light_of_two_hues_is_no_lamp_s() -> None:
    both = glow((1, 0, 0.2), x=90) + glow((0, 0.2, 1), x=130)
    assert find_lamp_glow([seen(both)] * 3, back(), 4.0, CODES) is None


def test_a_bright_body_and_a_veil_are_no_glow() -> None:
    body = np.zeros((SIZE[1], SIZE[0], 3), np.float32)
    body[40:80, 90:130] = 90  # it has an outline
    assert find_lamp_glow([seen(body)] * 3, back(), 4.0, CODES) is None
    veil = np.zeros_like(body)
    veil[30:90, 80:140] = np.float32([110, -60, 110])  # it hides some of the green
    assert find_lamp_glow([seen(veil)] * 3, back(), 4.0, CODES) is None


def test_a_speck_is_no_glow() -> None:
    """A hundredth of the place is wanted: 192 of 160 x 120 pixels, a disc of 7.8 in radius."""
    assert find_lamp_glow([seen(glow((1, 0.2, 1), peak=60, wide=3))] * 3, back(), 4.0, CODES) is None
    assert find_lamp_glow([seen(glow((1, 0.2, 1), peak=60, wide=6))] * 3, back(), 4.0, CODES) is not None


def test_without_a_figure_s_light_there_is_none() -> None:
    assert find_lamp_glow([seen(glow((0, 0, 0)))] * 3, back(), 4.0, CODES) is None


def test_darkened_tells_a_channel_that_lost_light() -> None:
    added = np.zeros((9, 9, 3), np.float32)
    added[..., 2] = 40
    added[:, 5:, 1] = -5
    there = darkened(added, 2.0)
    assert there[:, 6:].all()
    assert not there[:, :4].any()
    assert not darkened(added, 3.0).any()


def test_what_adds_ends_at_a_body() -> None:
    hill = glow((1, 0.5, 0.2))
    body = np.zeros((SIZE[1], SIZE[0]), np.bool_)
    body[:, 100:] = True
    there = only_adds(np.float32(hill), body, 3.0)
    assert not there[:, 100:].any()
    assert there[:, :94].all()
    assert hill.max() > 80  # its own light is left as it was


def parted(unmixer: Unmixer, light: np.ndarray) -> Unmixed:
    """Part a picture that shows bare backing nowhere."""
    picture = AgainstPlate(light, back())
    return unmixer(picture, picture, np.zeros(light.shape[:2], np.bool_))


@pytest.mark.parametrize(("through", "amount"), [(1.0, 1.0), (0.0, 0.6)])
def test_a_glow_hides_nothing_and_cloth_of_its_hue_does(through: float, amount: float) -> None:
    """Blue light over all of the green, as a glow's; and over three fifths of it, as a cloth's."""
    hue = np.float32([0, 0, 1])
    one = np.ones(1, np.float32)
    palette = Palette(hue[None], 250 * one, through * one, (1 - through) * one, one)
    unmixer = Unmixer(palette, HueAxis.of(BACK), CODES)
    light = np.float32(amount * BACK + glow((0, 0, 1)))
    found = parted(unmixer, light)
    assert found.share[60, 100] == pytest.approx(amount, abs=0.02)
    assert found.hue[60, 100] == pytest.approx([0, 0, 1], abs=0.02)


@pytest.mark.parametrize(("times", "body"), [(1.0, False), (2.4, True)])
def test_a_flame_in_its_glow_is_a_body(times: float, body: bool) -> None:
    """Light of nearly the glow's hue, but far brighter than the glow was seen, covers the backing."""
    hue = np.float32([0.58, 0.40, 0.71])
    one = np.ones(1, np.float32)
    palette = Palette(hue[None], 90 * one, one, 0 * one, one)
    unmixer = Unmixer(palette, HueAxis.of(BACK), CODES)
    flame = np.broadcast_to(np.minimum(BACK + times * 80 * hue + (0, 12, 0), 255), back().shape)
    found = parted(unmixer, np.float32(flame))
    assert bool(found.share[60, 100] < 0.6) is body


def test_a_lamp_s_glow_keeps_its_colour_before_cloth() -> None:
    """A violet lantern before teal: its light is told from cloth that would hide some of the teal."""
    from ghostprep.picture import learn_key

    teal = np.float32([47, 100, 118])
    frames, true = [], []
    for i in range(8):
        light = glow((0.15, 0.05, 1), x=70 + 6 * i, peak=110, wide=16)
        frame = teal + light + np.random.default_rng(i).normal(0, 1.5, light.shape)
        x = 40 + 6 * i
        frame[30:100, x - 14 : x + 14] = (120, 90, 200)
        frames.append(np.uint8(np.rint(frame.clip(0, 255))))
        light[30:100, x - 14 : x + 14] = (120, 90, 200)
        true.append(light)
    key = learn_key(frames, mix="codes")
    figure = key.at(None, SIZE, SIZE)(frames[4]).codes.astype(np.float32)
    there = cv2.erode((true[4].max(-1) > 10).astype(np.uint8), np.ones((5, 5))) > 0
    there[:, :82] = there[:, 92:] = False  # beside the figure, where the glow is kept whole
    off = (figure - true[4])[there]
    assert np.abs(off.mean(0)).max() < 6
    assert np.sqrt((off**2).mean()) < 8


def test_a_pale_cloth_that_fades_out_is_no_lamp() -> None:
    """Grey fur, soft at its end: before green it looks like so much pink light more."""
    grey = np.float32([214, 206, 216])
    yy, xx = np.mgrid[: SIZE[1], : SIZE[0]].astype(np.float32)
    frames, true, thin = [], [], []
    for i in range(8):
        away = np.hypot(xx - 50 - 6 * i, yy - 60)
        cover = np.clip((46 - away) / 14, 0, 1)[..., None]
        noise = np.random.default_rng(i).normal(0, 1.5, (*away.shape, 3))
        frames.append(np.uint8(np.rint((cover * grey + (1 - cover) * BACK + noise).clip(0, 255))))
        true.append(cover * grey)
        thin.append((cover[..., 0] > 0.3) & (cover[..., 0] < 0.9))
    key = learn_key(frames, mix="codes")
    assert key.palette is not None
    assert not (key.palette.through == 1).any()
    keyer = key.at(None, SIZE, SIZE)
    for frame, whole, end in zip(frames, true, thin, strict=True):
        assert np.abs(keyer(frame).codes.astype(float) - whole)[end].mean() < 6
