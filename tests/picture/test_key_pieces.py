"""Small pieces of the key in closed form: alpha, fill, what lies beside the cloth, light that falls off."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from PIL import Image

from ghostprep.picture.key.falloff import falls_off
from ghostprep.picture.key.hue import like
from ghostprep.picture.key.keyed import Keyed
from ghostprep.picture.key.outside import OutsideCut
from ghostprep.picture.key.plain import AlphaKeyer, FillingKeyer, OpenKeyer
from ghostprep.transfer import codes_to_light


def test_straight_alpha_is_multiplied_as_pillow_does_it_and_multiplied_alpha_is_left() -> None:
    rng = np.random.default_rng(1)
    frame = rng.integers(0, 256, (40, 50, 4), dtype=np.uint8)
    frame[:5, :, 3] = 0
    black = Image.new("RGBA", (50, 40), (0, 0, 0, 255))
    theirs = np.asarray(Image.alpha_composite(black, Image.fromarray(frame)))[..., :3].astype(int)
    straight = AlphaKeyer(premultiplied=False)(frame)
    assert np.abs(straight.codes.astype(int) - theirs).max() <= 1
    np.testing.assert_array_equal(straight.matte, frame[..., 3])
    multiplied = AlphaKeyer(premultiplied=True)(frame)
    # light without coverage is nothing
    np.testing.assert_array_equal(multiplied.codes, np.where(frame[..., 3:] > 0, frame[..., :3], 0))
    # 257 steps to a code: 65535 / 255
    assert (
        straight.figure[frame[..., 3] == 255].tolist()
        == (frame[frame[..., 3] == 255][:, :3].astype(int) * 257).tolist()
    )
    whole = OpenKeyer()(frame[..., :3])
    np.testing.assert_array_equal(whole.codes, frame[..., :3])
    assert whole.matte.min() == 255


def test_half_the_coverage_is_painted_with_half_the_light() -> None:
    matte = np.array([[0, 51, 128, 255]], np.uint8)
    keyer = FillingKeyer(lambda frame: Keyed(np.full((1, 4, 3), 9, np.uint16), matte), (255, 188, 0))
    painted = keyer(np.zeros((1, 4, 3), np.uint8))
    light = codes_to_light(painted.figure)
    # IEC 61966-2-1: code 188 is 0.5029 of white
    expected = np.outer([0, 0.2, 128 / 255, 1], [1, 0.5029, 0])
    assert light[0] == pytest.approx(expected, abs=1e-4)
    np.testing.assert_array_equal(painted.matte, matte)


GREEN = np.float32([40, 160, 70])


def cut(apart: int, *, noise: float = 2.0, touches: bool = True, colour: int = 1) -> tuple[Keyed, np.ndarray]:
    """Cloth on the left, a grey wall on the right of column 60; a bar from 30 on reaches out to 100."""
    mask = np.zeros((60, 120), np.float32)
    mask[:, 60:] = 1
    plate = np.full((60, 120, 3), 90, np.uint8)
    beside = OutsideCut.of(mask, plate, np.full((60, 120), noise, np.float32), GREEN)
    frame, matte = plate.copy(), np.zeros((60, 120), np.uint8)
    matte[20:40, (30 if touches else 20) : (60 if touches else 45)] = 255
    frame[20:40, (30 if touches else 60) : 100] = 90 + apart if colour == 1 else GREEN
    figure = np.repeat((matte * np.uint16(257))[..., None], 3, axis=2)
    return beside.cut(frame, Keyed(figure, matte)), frame


@pytest.mark.parametrize(
    ("apart", "covered"), [(5, 0), (9, 255 * (4.5 - 3) / 4), (12, 255 * (6 - 3) / 4), (14, 255), (40, 255)]
)
def test_beside_the_cloth_a_figure_is_what_differs_by_three_to_seven_times_the_noise(
    apart: int, covered: float
) -> None:
    keyed, frame = cut(apart)
    assert keyed.matte[30, 80] == pytest.approx(covered, abs=2)
    assert keyed.codes[30, 80] == pytest.approx(frame[30, 80] * (covered / 255), abs=1.5)
    assert keyed.matte[30, 45] == 255
    assert not keyed.matte[5:15].any()
    assert not keyed.matte[:, 108:].any()


def test_only_what_hangs_together_with_the_figure_steps_out_and_never_the_cloths_own_colour() -> None:
    apart, _ = cut(40, touches=False)
    assert not apart.matte[:, 60:].any()
    assert apart.matte[30, 30] == 255
    own, _ = cut(0, colour=0)
    assert not own.matte[22:38, 64:96].any()
    noisy, _ = cut(40, noise=90.0)
    assert not noisy.matte[:, 64:].any()


def test_glow_is_looked_for_well_within_the_cloth() -> None:
    """Three small pixels from its end, and up to the picture's border."""
    mask = np.zeros((64, 128), np.float32)
    mask[:, 64:] = 1
    beside = OutsideCut.of(mask, np.zeros((64, 128, 3), np.uint8), np.ones((64, 128), np.float32), GREEN)
    deep = beside.deep((16, 32, 3))
    assert deep[:, :13].min() == 1
    assert deep[:, 13:].max() == 0


@pytest.mark.parametrize(("share", "alike"), [(1.0, True), (0.8, True), (0.72, False)])
def test_the_cloths_colour_has_three_quarters_of_its_chroma(share: float, alike: bool) -> None:
    luma = float(GREEN @ (0.2126, 0.7152, 0.0722))
    paler = luma + share * (GREEN - luma)
    assert bool(like(paler, GREEN)) is alike
    # in half the light it has half the chroma
    assert bool(like(0.5 * paler, GREEN)) is alike


@pytest.mark.parametrize(
    ("luma", "chroma", "alike"),
    [(0.2, 0.35, True), (0.2, 0.25, False), (2.0, 1.3, True), (2.0, 1.1, False), (1.0, 0.8, True)],
)
def test_light_on_the_cloth_changes_what_chroma_is_asked_within_bounds(
    luma: float, chroma: float, alike: bool
) -> None:
    """Down to two fifths of it, up to eight."""
    grey = float(GREEN @ (0.2126, 0.7152, 0.0722))
    assert bool(like(luma * grey + chroma * (GREEN - grey), GREEN)) is alike


@pytest.mark.parametrize(("across", "alike"), [(4.0, True), (7.0, False)])
def test_of_a_pale_cloth_three_codes_more_aside_are_noise(across: float, alike: bool) -> None:
    """Chroma of ten codes along Cb, and some along Cr (ITU-R BT.709-6, item 3.3)."""

    def of(cb: float, cr: float) -> np.ndarray:
        r, b = 120 + 1.5748 * cr, 120 + 1.8556 * cb
        return np.float32([r, (120 - 0.2126 * r - 0.0722 * b) / 0.7152, b])

    assert bool(like(of(10, across), of(10, 0))) is alike
    assert bool(like(of(10, -across), of(10, 0))) is alike


@pytest.mark.parametrize(
    ("degrees", "alike"), [(0, True), (10, True), (-10, True), (18, False), (-18, False)]
)
def test_the_cloths_colour_is_of_its_hue(degrees: float, alike: bool) -> None:
    """Turned in the plane of Cb and Cr (ITU-R BT.709-6, items 3.2 and 3.3)."""
    r, g, b = (float(x) for x in GREEN)
    luma = 0.2126 * r + 0.7152 * g + 0.0722 * b
    cb, cr = (b - luma) / 1.8556, (r - luma) / 1.5748
    turn = np.deg2rad(degrees)
    cb, cr = cb * np.cos(turn) - cr * np.sin(turn), cb * np.sin(turn) + cr * np.cos(turn)
    r, b = luma + 1.5748 * cr, luma + 1.8556 * cb
    assert bool(like(np.float32([r, (luma - 0.2126 * r - 0.0722 * b) / 0.7152, b]), GREEN)) is alike


def hill(height: float, width: float) -> np.ndarray:
    yy, xx = np.mgrid[-40:40, -60:60]
    light = height * np.exp(-(xx**2 + yy**2) / (2 * width**2))
    return np.repeat(light[..., None], 3, axis=2).astype(np.float32)


@pytest.mark.parametrize(("height", "width"), [(60, 12), (150, 12), (30, 6)])
def test_a_soft_hill_of_light_falls_off_and_so_does_the_black(height: float, width: float) -> None:
    assert falls_off(hill(height, width), 3.0).mean() > 0.99


def test_a_body_does_not_fall_off_and_a_hole_in_it_is_the_bodys() -> None:
    body = np.zeros((80, 120, 3), np.float32)
    cv2.rectangle(body, (40, 20), (80, 60), (90, 80, 70), -1)
    cv2.rectangle(body, (55, 35), (65, 45), (0, 0, 0), -1)
    found = falls_off(body, 3.0)
    assert not found[24:57, 44:53].any()
    assert found[:15].all()
    assert found[:, 90:].all()
    # a glow beside it stays a glow
    both = np.maximum(body, np.roll(hill(50, 7), 45, axis=1))
    assert falls_off(both, 3.0)[30:50, 98:112].mean() > 0.95
    # an outline of less than eight codes is none
    assert falls_off(body * np.float32(6 / 90), 3.0)[30, 42:50].all()
