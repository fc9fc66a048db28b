"""A lamp's glow before green: light that covers nothing is kept, and bare backing stays exactly black."""

import numpy as np
import pytest

from ghostprep.picture.key.curve import Curve
from ghostprep.picture.key.glow import GlowPlate, find_glow
from ghostprep.transfer import codes_to_light, light_to_codes, rounded

PLATE = np.full((240, 320, 3), (54, 156, 71), np.uint8)
ALL = np.ones((240, 320), np.float32)


def scene(seed: int, glow_codes: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """The glow as it is, the frame as filmed (8 bits, noise of one code), and the figure's matte."""
    y, x = np.mgrid[:240, :320]
    shape = np.exp(-((x - 160) ** 2 + (y - 120) ** 2) / (2 * 18.0**2))[..., None]
    peak = codes_to_light(np.array([glow_codes, glow_codes * 2 // 3, glow_codes // 3], np.uint8))
    glow = (shape * peak).astype(np.float32)
    filmed = light_to_codes(codes_to_light(PLATE) + glow).astype(float)
    filmed += np.random.default_rng(seed).normal(0, 1, filmed.shape)
    matte = np.zeros((240, 320), np.uint8)
    matte[100:140, 150:170] = 255
    return glow, np.clip(np.rint(filmed), 0, 255).astype(np.uint8), matte


def found_in(frame: np.ndarray, matte: np.ndarray) -> np.ndarray:
    plate = GlowPlate.of(codes_to_light(PLATE) * 255, Curve("light"))
    found = find_glow(codes_to_light(frame) * 255, plate, matte, ALL, Curve("light"))
    figure = np.zeros(frame.shape, np.uint16)
    if found is not None:
        found.onto(figure)
    return rounded(figure)


def test_the_glow_is_found_in_its_own_light() -> None:
    glow, frame, matte = scene(1, 90)
    found = found_in(frame, matte)
    bright = (glow[..., 0] > 0.03) & (matte == 0)
    wanted = light_to_codes(glow)[bright].astype(float)
    assert abs(found[bright].astype(float) - wanted).mean() < 8  # six codes of its tail are left out
    assert not found[matte > 0].any()


def test_a_glow_of_mist_keeps_its_hue_though_it_covers_some_of_the_backing() -> None:
    """An orange lamp in mist before green takes more of the green than it adds: it would else be red."""
    glow, _, matte = scene(1, 90)
    cover = 0.5 * glow[..., :1] / glow.max()
    plate = codes_to_light(PLATE) * 255
    light = glow * 255 + (1 - cover) * plate
    assert (light[..., 1] < plate[..., 1]).any()
    curve = Curve("light")
    found = find_glow(
        np.float32(light), GlowPlate.of(plate, curve), matte, np.float32(1 - cover[..., 0]), curve
    )
    assert found is not None
    figure = np.zeros(PLATE.shape, np.uint16)
    found.onto(figure)
    got = codes_to_light(rounded(figure))[120, 182]
    assert got == pytest.approx(glow[120, 182], rel=0.25)


def test_a_glow_that_a_program_added_in_codes_is_found() -> None:
    curve, (_, _, matte) = Curve("codes"), scene(1, 0)
    y, x = np.mgrid[:240, :320]
    added = 60 * np.exp(-((y - 120) ** 2 + (x - 160) ** 2) / 800)[..., None] * [1.0, 0.8, 0.5]
    frame = np.clip(np.rint(PLATE + added), 0, 255).astype(np.uint8)
    found = find_glow(
        curve.amounts(frame),
        GlowPlate.of(PLATE.astype(np.float32), curve),
        matte,
        ALL,
        curve,
    )
    assert found is not None
    figure = np.zeros(frame.shape, np.uint16)
    found.onto(figure)
    bright = (added[..., 0] > 10) & (matte == 0)
    assert np.abs(rounded(figure)[bright] - added[bright]).mean() < 2


def test_there_is_no_gap_between_a_lamp_and_its_glow() -> None:
    glow, frame, matte = scene(1, 90)
    matte[96:144, 146:174] = 20  # a soft rim, of which the key keeps next to nothing
    matte[100:140, 150:170] = 255
    rim = matte == 20
    wanted = light_to_codes(glow)[rim].astype(float)
    assert (found_in(frame, matte)[rim] > 0.6 * wanted - 8).all()


def test_a_glow_darkens_nothing() -> None:
    _, frame, matte = scene(1, 90)
    plate = GlowPlate.of(codes_to_light(PLATE) * 255, Curve("light"))
    found = find_glow(codes_to_light(frame) * 255, plate, matte, ALL, Curve("light"))
    assert found is not None
    figure = np.full(frame.shape, 40 * 257, np.uint16)
    found.onto(figure)
    assert figure.min() == 40 * 257
    assert figure.max() > 60 * 257


def test_bare_backing_stays_exactly_black_whatever_its_noise() -> None:
    for seed in range(5):
        _, frame, matte = scene(seed, 0)
        assert not found_in(frame, matte).any()


def test_light_far_from_the_figure_is_the_backings_own() -> None:
    _, frame, matte = scene(1, 90)
    assert not found_in(np.roll(frame, 120, axis=1), matte)[:, 240:].any()


def test_a_brighter_patch_of_the_backing_is_no_glow() -> None:
    _, _, matte = scene(1, 0)
    light = codes_to_light(PLATE)
    light[60:180, 190:230] *= 1.15
    assert not found_in(light_to_codes(light), matte).any()


def test_a_code_of_light_is_the_curves_slope() -> None:
    codes = np.arange(30, 250, dtype=np.uint8)
    light = codes_to_light(codes)
    measured = (codes_to_light(codes + 1) - codes_to_light(codes - 1)) / 2 * 255
    assert Curve("light").a_code(light * 255) == pytest.approx(measured, rel=0.01)
    between = Curve(None)
    steps = (between.amounts(codes + 1) - between.amounts(codes - 1)) / 2
    assert between.a_code(between.amounts(codes)) == pytest.approx(steps, rel=0.01)


def test_a_frame_that_is_exposed_more_than_the_plate_has_no_more_glow() -> None:
    glow, _, matte = scene(1, 90)
    brighter = light_to_codes((codes_to_light(PLATE) + glow) * np.float32(1.1))
    plate = GlowPlate.of(codes_to_light(PLATE) * 255, Curve("light"))
    found = find_glow(codes_to_light(brighter) * 255, plate, matte, 1.1 * ALL, Curve("light"))
    assert found is not None
    figure = np.zeros(brighter.shape, np.uint16)
    found.onto(figure)
    bright = (glow[..., 0] > 0.03) & (matte == 0)
    wanted = light_to_codes(glow * np.float32(1.1))[bright].astype(float)
    assert abs(figure[bright] / 257 - wanted).mean() < 8
