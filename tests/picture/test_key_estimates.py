"""Estimates of the key, each alone: where skin's hue lies, where backing is bare."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from skimage.measure import block_reduce

from ghostprep.picture import Backing
from ghostprep.picture.key.backing import Kind
from ghostprep.picture.key.chroma import _HIGH, _HIGH_AT_LEAST, _bare_from
from ghostprep.picture.key.chroma_plate import ChromaPlate
from ghostprep.picture.key.curve import Curve
from ghostprep.picture.key.hue import LUMA_CB_CR, HueAxis
from ghostprep.picture.key.plain import OpenKeyer
from ghostprep.picture.learn.before_even import even_key
from ghostprep.picture.learn.detect import Candidate, detect
from ghostprep.picture.learn.learn import _of_hue
from ghostprep.picture.learn.plate_match import _gains
from ghostprep.transfer import codes_to_light, light_to_codes


def of_hue(degrees: float) -> np.ndarray:
    """A colour (3,) by its hue in the plane of Cb and Cr, counted from Cb (ITU-R BT.709-6, item 3.3)."""
    angle = np.deg2rad(degrees)
    return np.asarray(np.linalg.inv(LUMA_CB_CR) @ (120, 40 * np.cos(angle), 40 * np.sin(angle)), float)


@given(st.floats(0, 360))
def test_skin_lies_at_120_degrees_and_narrows_the_key_near_it(hue: float) -> None:
    axis = HueAxis.of(of_hue(hue))
    skin = of_hue(120)
    _, along, across = axis.rows @ skin
    away = abs((hue - 120 + 180) % 360 - 180)
    assert np.hypot(along, across) == pytest.approx(40, rel=1e-4)
    assert along == pytest.approx(40 * np.cos(np.deg2rad(away)), abs=1e-2)
    # the nearer the backing is to skin, the narrower is the key for what is solid
    half_angle = np.clip(0.6 * away, 12, 40)
    assert axis.strict == pytest.approx(1 / np.tan(np.deg2rad(half_angle)), rel=1e-2)


@pytest.mark.parametrize(("mean", "spread"), [(1.0, 0.01), (0.97, 0.015), (1.0, 0.1), (1.3, 0.001)])
def test_backing_is_bare_down_to_its_noise(mean: float, spread: float) -> None:
    share = np.random.default_rng(2).normal(mean, spread, (90, 120)).astype(np.float32)
    bare = np.zeros((90, 120), bool)
    bare[10:80, 10:60] = True
    share[~bare] = 0.2  # the figure does not count
    wanted = np.clip(mean - 4.5 * spread, _HIGH_AT_LEAST, _HIGH)
    assert _bare_from(share, bare) == pytest.approx(wanted, abs=0.3 * spread)
    # of too little, nothing is told
    bare[:] = False
    bare[10:19, 10:19] = True
    assert _bare_from(share, bare) == _HIGH


@pytest.mark.parametrize(("kind", "colour"), [("blue", "#2040c0"), ("white", "")])
def test_a_backing_that_is_never_bare_has_the_colour_that_was_told(kind: Kind, colour: str) -> None:
    frames = np.full((4, 40, 60, 3), (120, 40, 20), np.uint8)
    plate = even_key(frames, Backing(kind, colour, 1.0, "told")).plate
    assert plate is not None
    assert plate.shape == (40, 60, 3)
    assert (plate == ((0x20, 0x40, 0xC0) if colour else (0xE6, 0xE6, 0xE6))).all()


@pytest.mark.parametrize(
    ("code", "rise", "level"),
    [(0, 0, True), (14, 2.9, True), (14, 3.1, False), (18, 1, True), (19, 1, False)],
)
def test_a_black_of_one_level_is_the_signals_and_no_shadow(code: int, rise: float, level: bool) -> None:
    colour = np.array([0, 0, code], np.float32)
    assert Candidate("black", colour, 0.5, 0.5, 0.0, 0.0, 0.0, rise).is_level is level
    assert not Candidate("white", colour, 0.5, 0.5, 0.0, 0.0, 0.0, rise).is_level


@pytest.mark.parametrize(("share", "least", "most"), [(0.2, 0.85, 0.9), (0.45, 0.3, 0.85)])
def test_a_plate_is_surer_the_more_of_the_picture_stands_still(
    share: float, least: float, most: float
) -> None:
    """A room of many colours; in its left part somebody is everywhere at some time."""
    rng = np.random.default_rng(7)
    room = rng.integers(30, 220, (15, 20, 3), np.uint8).repeat(8, axis=0).repeat(8, axis=1)
    frames = np.stack([room] * 10)
    wide = round(share * room.shape[1])
    for frame in frames:
        frame[:, :wide] = rng.integers(30, 220, (15, 20, 3), np.uint8).repeat(8, 0).repeat(8, 1)[:, :wide]
    found = detect(frames)
    assert found.kind == "plate"
    assert least <= found.confidence <= most


def test_a_hue_is_known_by_its_chroma_and_not_by_how_bright_it_is() -> None:
    green = np.array([0, 255, 0], np.float32)
    colours = np.array(
        [
            [40, 160, 60],
            [20, 80, 30],
            [100, 220, 110],
            [200, 40, 40],
            [60, 60, 200],
            [128, 128, 128],
            [180, 180, 40],
        ],
        np.uint8,
    )
    assert _of_hue(colours, green).tolist() == [True, True, True, False, False, False, False]


def test_an_open_key_passes_the_colours_of_a_frame_whatever_else_it_has() -> None:
    frame = np.random.default_rng(1).integers(0, 256, (6, 8, 4), np.uint8)
    keyed = OpenKeyer()(frame)
    assert (keyed.codes == frame[..., :3]).all()
    assert (keyed.matte == 255).all()


@pytest.mark.parametrize("gain", [0.6, 1.0, 1.5])
def test_a_clips_light_over_a_plates_is_told_where_nothing_moves(gain: float) -> None:
    """Two thirds of the picture are somebody's, who is darker."""
    plate = np.random.default_rng(3).integers(60, 150, (60, 90, 3), np.uint8)
    usual = light_to_codes(codes_to_light(plate) * np.float32(gain))
    quiet = np.zeros((60, 90), bool)
    quiet[:, :30] = True
    usual[~quiet] = light_to_codes(codes_to_light(plate[~quiet]) * np.float32(0.3))
    assert _gains(plate, usual, quiet) == pytest.approx(gain, rel=0.03)


def test_the_smaller_plate_is_the_means_of_the_whole_one() -> None:
    rows, columns = np.mgrid[:32, :48].astype(np.float32)
    light = np.stack([30 + columns, 140 + rows, 40 + 40 * np.sin(rows / 5)], axis=-1).astype(np.float32)
    plate = ChromaPlate.of(light, HueAxis.of(light.mean((0, 1))), 4, Curve("codes"))
    np.testing.assert_allclose(plate.little, block_reduce(light, (4, 4, 1), np.mean), rtol=1e-4)
