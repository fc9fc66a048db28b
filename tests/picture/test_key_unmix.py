"""A pixel is so much light of one hue and so much backing: with known mixtures, and against known solvers."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import nnls

from ghostprep.arrays import Floats
from ghostprep.picture.key.curve import Curve
from ghostprep.picture.key.hue import HueAxis
from ghostprep.picture.key.palette import AgainstPlate, Palette
from ghostprep.picture.key.unmix import Unmixer
from ghostprep.picture.learn.cloth import ToldCloths, cloths_of, palette_of
from ghostprep.picture.learn.colours import find_colours
from ghostprep.picture.learn.even import EvenPlate

GREEN = np.array([47, 154, 74], np.float32)
RED, BLUE, GREY = ((190, 40, 44), (50, 70, 180), (150, 150, 150))
CODES = Curve("codes")
SIZE = (48, 64)


def palette(*colours: tuple[int, int, int], through: float = 0.0) -> Palette:
    lights = np.array(colours, np.float32)
    length = np.linalg.norm(lights, axis=1)
    one = np.ones(len(colours), np.float32)
    return Palette(lights / length[:, None], length, through * one, one / len(colours), one / len(colours))


def unmixed(light: np.ndarray, hues: Palette, empty: np.ndarray | None = None) -> tuple[Floats, Floats]:
    """Part a picture of codes before green, which is its own small picture."""
    plate = np.broadcast_to(GREEN, light.shape).astype(np.float32)
    scene = AgainstPlate(light.astype(np.float32), plate)
    bare = np.zeros(light.shape[:2], bool) if empty is None else empty
    return Unmixer(hues, HueAxis.of(GREEN), CODES)(scene, scene, bare)[:2]


def flat(colour: np.ndarray) -> np.ndarray:
    return np.broadcast_to(np.asarray(colour, np.float32), (*SIZE, 3)).copy()


@given(st.sampled_from([RED, BLUE]), st.floats(0.3, 0.9), st.floats(0.2, 1.0))
@settings(deadline=None, max_examples=30)
def test_a_mixture_of_a_hue_that_is_near_is_told(
    cloth: tuple[int, int, int], share: float, lit: float
) -> None:
    light = flat(np.array(cloth))
    light[:, 32:] = (1 - share) * lit * np.array(cloth) + share * GREEN
    got, hue = unmixed(light, palette(cloth))
    assert got[:, :24].max() < 0.02
    # Lawson and Hanson's non-negative least squares, as SciPy has it
    hues = np.array(cloth) / np.linalg.norm(cloth)
    through = nnls(np.stack([hues, GREEN], 1).astype(float), light[20, 50].astype(float))[0][1]
    assert through == pytest.approx(share, abs=1e-3)
    assert got[8:40, 40:60] == pytest.approx(share, abs=0.03)
    assert hue[20, 50] == pytest.approx(hues, abs=0.02)


def test_of_two_hues_the_one_of_which_there_is_more_explains_a_colour() -> None:
    # olive between red and green: half of it, or solid
    light = flat(0.5 * np.array(RED) + 0.5 * GREEN)
    both = palette(RED, (118, 97, 59))
    for olive, share in ((0.99, 0.0), (0.01, 0.5)):
        part = np.float32([1 - olive, olive])
        got, _ = unmixed(light, both._replace(solid=part, thin=part))
        assert got == pytest.approx(share, abs=0.02)
    got, _ = unmixed(light, palette(RED, GREY))
    assert got == pytest.approx(0.5, abs=0.03)


def test_a_colour_that_no_hue_explains_keeps_what_is_not_the_backings() -> None:
    light = flat(GREEN)
    light[10:30, 20:44] = (230, 60, 220)
    got, _ = unmixed(light, palette(GREY))
    assert got[20, 32] < 0.05
    assert got[2, 2] > 0.95


def test_where_nothing_is_all_is_backing() -> None:
    light = flat(GREEN) + np.random.default_rng(2).normal(0, 2, (*SIZE, 3))
    got, hue = unmixed(light, palette(RED, GREY), np.ones(SIZE, bool))
    assert got.min() == 1
    assert not hue.any()


def test_no_light_is_made_brighter_than_its_hue_was_seen() -> None:
    """Half of a backing and half of a cloth ten times as bright: nobody saw such light."""
    light = flat(np.array(RED) / 10)
    light[:, 32:] = 0.5 * np.array(RED) + 0.5 * GREEN
    told, dim = palette(RED), palette(RED)._replace(brightest=np.float32([np.linalg.norm(RED) / 10]))
    bright, _ = unmixed(light, told)
    seldom, _ = unmixed(light, dim)
    assert bright[24, 50] == pytest.approx(0.5, abs=0.03)
    assert seldom[24, 50] < bright[24, 50] - 0.1


def in_small(light: np.ndarray, times: int) -> AgainstPlate:
    """A picture of codes before green, so many times smaller."""
    size = (light.shape[1] // times, light.shape[0] // times)
    small = np.asarray(cv2.resize(light, size, interpolation=cv2.INTER_AREA), np.float32)
    return AgainstPlate(small, np.broadcast_to(GREEN, small.shape).astype(np.float32))


@given(times=st.sampled_from([2, 4]), column=st.integers(24, 40), share=st.floats(0.5, 1.0))
@settings(deadline=None, max_examples=30)
def test_a_gap_of_one_pixel_is_found_whatever_the_small_picture_shows(
    times: int, column: int, share: float
) -> None:
    light = flat(GREEN)
    light[8:40, 12:52] = RED
    light[12:36, column] = (1 - share) * np.array(RED) + share * GREEN
    small = in_small(light, times)
    bare = np.zeros(small.light.shape[:2], np.bool_)
    found = Unmixer(palette(RED), HueAxis.of(GREEN), CODES)(in_small(light, 1), small, bare)
    assert found.share[14:34, column] == pytest.approx(share, abs=0.05)
    assert found.share[14:34, [column - 1, column + 1]] == pytest.approx(0, abs=0.02)


def test_where_the_small_picture_is_even_it_is_enough(monkeypatch: pytest.MonkeyPatch) -> None:
    """A figure with a veil, 480 high: no more than their edges are parted pixel by pixel."""
    light = np.repeat(np.repeat(flat(GREEN), 10, 0), 10, 1)
    light[80:400, 120:300] = RED
    light[80:400, 300:520] = 0.6 * np.array(RED) + 0.4 * GREEN
    small = in_small(light, 4)
    asked = []
    real = Unmixer._mean

    def counted(self: Unmixer, light: Floats, plate: Floats) -> tuple[Floats, Floats]:
        asked.append(light.shape[1])
        return real(self, light, plate)

    monkeypatch.setattr(Unmixer, "_mean", counted)
    bare = (small.light == GREEN).all(-1)
    found = Unmixer(palette(RED), HueAxis.of(GREEN), CODES)(in_small(light, 1), small, bare)
    assert sum(asked) < 0.2 * light[..., 0].size
    for columns, share in ((slice(0, 120), 1.0), (slice(120, 300), 0.0), (slice(300, 520), 0.4)):
        assert found.share[80:400, columns] == pytest.approx(share, abs=0.03)


def shown(draw: np.ndarray, alpha: np.ndarray, count: int = 6) -> tuple[np.ndarray, EvenPlate]:
    """Glimpses of a figure's codes and coverage before green, with noise, and what is known of the green."""
    rng = np.random.default_rng(3)
    frames = []
    for i in range(count):
        own, cover = (np.roll(x, 3 * i, 1) for x in (draw, alpha[..., None]))
        codes = own * cover + GREEN * (1 - cover) + rng.normal(0, 1, own.shape)
        frames.append(np.clip(np.rint(codes), 0, 255).astype(np.uint8))
    empty = np.stack([np.roll(alpha, 3 * i, 1) == 0 for i in range(count)])
    plate = np.broadcast_to(GREEN, (*alpha.shape, 3)).astype(np.float32)
    return np.stack(frames), EvenPlate(plate, empty, 1.0)


def folds(shape: tuple[int, int], depth: float) -> np.ndarray:
    noise = cv2.GaussianBlur(np.random.default_rng(9).normal(0, 1, shape).astype(np.float32), (0, 0), 3)
    return (1 + depth * noise / noise.std())[..., None]


def found(frames: np.ndarray, backing: EvenPlate) -> Palette:
    axis = HueAxis.of(GREEN)
    colours = find_colours(frames, backing, axis, CODES)
    return palette_of(cloths_of(colours.found, axis, ToldCloths()), colours.glow)


def angle(a: np.ndarray, b: np.ndarray) -> float:
    cosine = np.dot(a, b) / np.linalg.norm(a) / np.linalg.norm(b)
    return float(np.rad2deg(np.arccos(np.clip(cosine, -1, 1))))


@pytest.mark.parametrize("cloth", [RED, BLUE])
@pytest.mark.parametrize("share", [0.4, 0.7])
def test_folds_tell_a_veil_its_hue_and_what_shows_through(cloth: tuple[int, int, int], share: float) -> None:
    draw, alpha = np.zeros((120, 160, 3)), np.zeros((120, 160))
    draw[20:100, 40:110] = (np.array(cloth) * folds((120, 160), 0.08))[20:100, 40:110]
    alpha[20:100, 40:110] = 1 - share
    told = found(*shown(draw, alpha))
    veil = int(told.through.argmax())
    assert told.through[veil] == pytest.approx(share, abs=0.06)
    assert angle(told.hues[veil], np.array(cloth)) < 8


def test_solid_cloth_with_folds_is_no_veil() -> None:
    draw, alpha = np.zeros((120, 160, 3)), np.zeros((120, 160))
    draw[20:100, 40:110] = (np.array((122, 126, 62)) * folds((120, 160), 0.25))[20:100, 40:110]
    alpha[20:100, 40:110] = 1
    told = found(*shown(draw, alpha))
    assert not told.through.any()
    assert min(angle(hue, np.array((122, 126, 62))) for hue in told.hues) < 2


def test_less_of_a_colour_that_more_of_a_cloth_makes_is_that_cloth_seen_thinly() -> None:
    draw, alpha = np.zeros((120, 160, 3)), np.zeros((120, 160))
    draw[20:80, 40:100], alpha[20:80, 40:100] = RED, 1
    draw[84:110, 40:70], alpha[84:110, 40:70] = RED, 0.5
    told = found(*shown(draw, alpha))
    assert [round(angle(hue, np.array(RED))) for hue in told.hues] == [0]
    alpha[20:80, 40:100], alpha[84:110, 40:70] = 0.5, 1
    olive = 0.5 * np.array(RED) + 0.5 * GREEN
    told = found(*shown(draw, alpha))
    assert min(angle(hue, olive) for hue in told.hues) < 2


def test_without_a_figure_the_palette_is_grey() -> None:
    told = found(*shown(np.zeros((120, 160, 3)), np.zeros((120, 160))))
    assert told.hues == pytest.approx(np.full((1, 3), 3**-0.5))
    assert told.through == 0


def test_the_palette_is_the_same_every_time() -> None:
    draw, alpha = np.zeros((120, 160, 3)), np.zeros((120, 160))
    draw[20:100, 40:110] = (np.array(BLUE) * folds((120, 160), 0.2))[20:100, 40:110]
    alpha[20:100, 40:110] = 1
    first, second = (found(*shown(draw, alpha)) for _ in range(2))
    for one, other in zip(first, second, strict=True):
        np.testing.assert_array_equal(one, other)
