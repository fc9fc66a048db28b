"""Between codes and light: inverses, nearest codes, shapes, weights."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ghostprep.transfer import (
    LUMA_709,
    STILL,
    codes_to_light,
    figure_of_codes,
    figure_of_light,
    from_linear,
    light_to_codes,
    linear_table,
    luminance,
    rounded,
    to_linear,
)


@given(codes=st.lists(st.floats(0, 1), min_size=1, max_size=9))
def test_signals_come_back_from_light(codes: list[float]) -> None:
    signal = np.float64(codes)
    assert from_linear(to_linear(signal)) == pytest.approx(signal, abs=2e-6)
    # white and black stay what they are; what lies outside is clipped
    assert from_linear(np.array([-0.1, 0.0, 1.0, 1.5])) == pytest.approx([0, 0, 1, 1])


def test_light_becomes_the_nearest_code() -> None:
    light = np.linspace(0, 1, 20011, dtype=np.float32)
    # sRGB, IEC 61966-2-1, in double precision
    signal = np.where(
        light <= 0.0031308, 12.92 * light, 1.055 * light.astype(np.float64) ** (1 / 2.4) - 0.055
    )
    off = np.abs(light_to_codes(light) - 255 * signal)
    assert off.max() < 0.53
    assert light_to_codes(np.float32([-3, 0, 1, 7])).tolist() == [0, 0, 255, 255]


@pytest.mark.parametrize("shape", [(0,), (0, 3), (7,), (2, 3, 3)])
def test_codes_of_any_shape_become_light_of_it(shape: tuple[int, ...]) -> None:
    codes = (np.arange(np.prod(shape), dtype=np.int64) * 37 % 256).astype(np.uint8).reshape(shape)
    light = codes_to_light(codes)
    assert light.shape == shape
    assert light.dtype == np.float32
    assert light == pytest.approx(to_linear(codes / 255), abs=1e-6)


def test_luminance_is_that_of_bt_709_however_it_is_computed() -> None:
    rgb = np.random.default_rng(0).random((4, 5, 3)).astype(np.float32)
    wanted = 0.2126 * rgb[..., 0] + 0.7152 * rgb[..., 1] + 0.0722 * rgb[..., 2]
    for one in (rgb, rgb.astype(np.float64), rgb[0], rgb[0, 0]):
        assert luminance(one) == pytest.approx(wanted[tuple([0] * (3 - one.ndim))], abs=1e-6)
    assert sum(LUMA_709) == pytest.approx(1)


def test_a_step_that_counts_as_none_is_that_of_one_code_at_the_dark_end() -> None:
    # sRGB is straight there, IEC 61966-2-1: 1/255 of a signal is 1/255/12.92 of light
    assert pytest.approx(1 / 255 / 12.92) == STILL
    assert np.diff(codes_to_light(np.arange(256, dtype=np.uint8))).min() == pytest.approx(STILL, rel=1e-5)


def srgb(light: np.ndarray) -> np.ndarray:
    """Return sRGB signals in double precision (IEC 61966-2-1)."""
    return np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)


@pytest.mark.parametrize("white", [1.0, 0.25, 4.0])
def test_light_becomes_the_nearest_code_of_a_figure(white: float) -> None:
    light = np.linspace(0, 1, 20011) * white
    figure = figure_of_light(light.astype(np.float32), white)
    # the tables have as many steps as a figure has codes: two of them is what rounding may cost
    assert np.abs(figure - 65535 * srgb(light / white)).max() < 2
    assert figure_of_light(np.float32([-1, 9 * white]), white).tolist() == [0, 65535]


def test_figures_and_their_light_come_back() -> None:
    every = np.arange(65536, dtype=np.uint16)
    light = codes_to_light(every)
    assert light == pytest.approx(to_linear(every / 65535), abs=1e-6)
    assert np.abs(figure_of_light(light).astype(int) - every).max() <= 1
    codes = np.arange(256, dtype=np.uint8)
    assert (figure_of_codes(codes) == codes * 257.0).all()
    assert (rounded(figure_of_codes(codes)) == codes).all()
    assert (figure_of_codes(np.float32([-1, 0.5, 99.25, 300])) == [0, 128, 25507, 65535]).all()
    for empty in (figure_of_codes(np.empty((0, 3), np.float32)), figure_of_light(np.empty((0, 3)))):
        assert (empty.shape, empty.dtype) == ((0, 3), np.uint16)


def test_a_table_that_all_share_cannot_be_changed() -> None:
    with pytest.raises(ValueError, match="read-only"):
        linear_table()[0] = 1
