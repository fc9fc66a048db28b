"""What tells a body on black from light, and what is light at all: each limit from both sides."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from ghostprep.picture.key.black import BlackKeyer, _ramp, local_light, toe_of
from ghostprep.picture.learn.before_black import find_toe, is_body
from ghostprep.transfer import codes_to_light, light_to_codes

SIZE = (180, 240)


def disc(height: float, soft: float = 0.6) -> np.ndarray:
    """A disc of a height, codes, with a soft edge (sigma, pixels)."""
    flat = cv2.circle(np.zeros(SIZE, np.float32), (120, 90), 40, height, -1)
    return np.repeat(cv2.GaussianBlur(flat, (0, 0), soft)[..., None], 3, axis=2)


def hill(height: float, width: float) -> np.ndarray:
    yy, xx = np.mgrid[-90:90, -120:120]
    light = height * np.exp(-(xx**2 + yy**2) / (2 * width**2))
    return np.repeat(light[..., None], 3, axis=2)


def bodied(light: np.ndarray, level: float = 0.0, count: int = 8) -> bool:
    frames = np.repeat(np.rint(light + level).astype(np.uint8)[None], count, axis=0)
    return is_body(frames, np.full((*SIZE, 3), level, np.float32))


@pytest.mark.parametrize("level", [0, 20])
@pytest.mark.parametrize(
    ("light", "body"),
    [
        (disc(180), True), (disc(60), True), (disc(30), False), (disc(180, soft=2.2), False),
        (hill(200, 5), False), (hill(200, 25), False), (np.zeros((*SIZE, 3)), False),
    ],
    ids=["bright", "dim", "too faint to tell", "soft", "spark", "glow", "nothing"],
)  # fmt: skip
def test_a_bodys_outline_climbs_at_once_and_a_glow_fades(light: np.ndarray, body: bool, level: int) -> None:
    assert bodied(light, level) is body


@pytest.mark.parametrize(("bodies", "body"), [(0.9, True), (0.5, False)])
def test_most_outlines_must_be_a_bodys(bodies: float, body: bool) -> None:
    """Small discs among small sparks; a quarter of the outlines may fade."""
    light = np.zeros(SIZE, np.float32)
    for n in range(20):
        at = (24 + 48 * (n % 5), 24 + 44 * (n // 5))
        spot = cv2.circle(np.zeros(SIZE, np.float32), at, 9, 180, -1)
        light = np.maximum(light, cv2.GaussianBlur(spot, (0, 0), 0.6 if n < 20 * bodies else 3.0))
    assert bodied(np.repeat(light[..., None], 3, axis=2)) is body


@pytest.mark.parametrize(
    ("middle", "spread", "toe"), [(0, 1, 3.5), (0, 2, 6.5), (2, 1, 5.5), (-2, 1, 3.5), (0, 0, 0.5)]
)
def test_light_begins_three_deviations_above_the_black_and_its_rounding(
    middle: float, spread: float, toe: float
) -> None:
    noise = np.random.default_rng(1).normal(middle, spread, 200_000).astype(np.float32)
    assert toe_of(noise) == pytest.approx(toe, abs=0.05 * spread + 1e-6)


@pytest.mark.parametrize(("faint", "toe"), [(0.0, 0.5), (3.0, 3.5), (6.0, 0.5)])
def test_what_lies_four_codes_above_the_black_is_not_bare(faint: float, toe: float) -> None:
    """What is not bare does not count; of nothing, rounding alone is told."""
    level = np.full((*SIZE, 3), 20, np.float32)
    frames = np.full((2, *SIZE, 3), 20 + round(faint), np.uint8)
    assert find_toe(frames, level) == pytest.approx(toe, abs=0.02)


def test_light_is_that_of_twenty_five_pixels() -> None:
    above = np.zeros((*SIZE, 3), np.float32)
    above[90, 120] = (25, 50, 100)
    found = local_light(above)
    assert found[88:93, 118:123] == pytest.approx(4)
    assert found.sum() == pytest.approx(100, rel=1e-4)
    # at any size on a picture of 240
    large = np.repeat(np.repeat(above, 2, 0), 2, 1)
    assert local_light(large) == pytest.approx(found, abs=1e-3)


def test_light_rises_from_the_toe_to_twice_the_toe() -> None:
    values = np.float32([0, 2, 3, 4, 9])
    assert _ramp(values.copy(), 2) == pytest.approx([0, 0, 0.5, 1, 1])


@pytest.mark.parametrize(("code", "shown"), [(35, 15), (50, 30 + 10), (70, 70), (200, 200)])
def test_a_body_hides_the_black_in_full_from_three_times_its_code_on(code: int, shown: int) -> None:
    """Over black of 20: at 50 by half, so that half of the black is its own light."""
    black = np.full((*SIZE, 3), 20, np.float32)
    frame = np.full((*SIZE, 3), 20, np.uint8)
    frame[50:130, 80:160] = code
    keyed = BlackKeyer(black, 0.5, body=True, linear=False, shape=False)(frame)
    assert keyed.codes[80:100, 110:130] == pytest.approx(shown, abs=1)
    assert not keyed.codes[:40].any()


@pytest.mark.parametrize(("light", "matte"), [(5, 50), (13, 130), (26, 255), (200, 255)])
def test_a_pane_shows_light_from_a_hundredth_of_white_on_in_full(light: int, matte: int) -> None:
    """Code 26 is a hundredth of white (IEC 61966-2-1)."""
    assert codes_to_light(np.array([26], np.uint8))[0] == pytest.approx(0.01, abs=5e-4)
    frame = np.zeros((*SIZE, 3), np.uint8)
    frame[50:130, 80:160] = light
    keyed = BlackKeyer(np.zeros((*SIZE, 3), np.float32), 0.5, body=False, linear=False, shape=False)(frame)
    assert (keyed.matte[80:100, 110:130] == matte).all()


@pytest.mark.parametrize("code", [60, 188])
def test_light_without_a_body_is_painted_by_how_much_of_it_there_is(code: int) -> None:
    frame = np.zeros((*SIZE, 3), np.uint8)
    frame[50:130, 80:160] = code
    keyed = BlackKeyer(np.zeros((*SIZE, 3), np.float32), 0.5, body=False, linear=True, shape=True)(frame)
    wanted = 255 * float(codes_to_light(np.array([code], np.uint8))[0])
    assert keyed.matte[80:100, 110:130] == pytest.approx(wanted, abs=0.6)


@pytest.mark.parametrize("code", [40, 90, 200])
@pytest.mark.parametrize("linear", [True, False])
def test_light_is_what_was_added_to_the_black(code: int, linear: bool) -> None:
    """In light, or in codes."""
    frame = np.full((*SIZE, 3), 20, np.uint8)
    both = np.array([[code, 20]], np.uint8)
    added = int(light_to_codes(codes_to_light(both).sum(keepdims=True))[0, 0]) if linear else code + 20
    frame[50:130, 80:160] = added
    black = np.full((*SIZE, 3), 20, np.float32)
    keyed = BlackKeyer(black, 0.5, body=False, linear=linear, shape=False)(frame)
    assert keyed.codes[80:100, 110:130] == pytest.approx(code, abs=1)
    assert not keyed.codes[:40].any()
