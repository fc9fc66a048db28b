import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ghostprep.picture.tone import MAX_GAIN, Tone, auto_gain, edge_fade, gain_table
from ghostprep.transfer import LUMA_709, codes_to_light, figure_of_codes, from_linear, rounded


def test_gain_works_on_light_not_on_codes() -> None:
    # IEC 61966-2-1: code 64 is .05126946 of white, code 128 is .21586050 (colour-science agrees)
    doubled = codes_to_light(gain_table(2.0)[[64 * 257]])[0]
    assert doubled == pytest.approx(2 * 0.05126946, rel=1e-4)


@settings(deadline=None, max_examples=40)
@given(st.floats(0.05, 20))
def test_gain_keeps_black_and_order(gain: float) -> None:
    table = gain_table(gain).astype(int)
    assert table[0] == 0
    assert (np.diff(table) >= 0).all()


def test_the_shoulder_keeps_a_lamp_from_becoming_a_flat_patch() -> None:
    table = rounded(gain_table(1.5)[::257])
    assert len(set(table[200:256].tolist())) >= 15


def test_tint_keeps_black_and_takes_the_colour() -> None:
    frame = np.zeros((1, 3, 3), np.uint8)
    frame[0, 1] = 255
    frame[0, 2] = (0, 128, 0)
    toned = rounded(Tone(tint=(128, 255, 255))(figure_of_codes(frame)))
    assert toned[0, 0].tolist() == [0, 0, 0]
    assert toned[0, 1].tolist() == [128, 255, 255]
    assert toned[0, 2, 1] == toned[0, 2, 2] > toned[0, 2, 0] > 0


@settings(deadline=None, max_examples=40)
@given(st.floats(0.05, 6), st.integers(0, 6), st.booleans(), st.integers(0, 2**32 - 1))
def test_tone_is_exact_to_a_part_of_a_code(gain: float, edge: int, tinted: bool, seed: int) -> None:
    codes = np.random.default_rng(seed).integers(0, 256, (12, 14, 3)).astype(np.uint8)
    tint = (255, 200, 120) if tinted else None
    light = codes_to_light(codes)
    # each step by itself, in light of double precision
    exact = light.astype(np.float64)
    if tint is not None:
        colour = codes_to_light(np.array(tint, np.uint8)).astype(np.float64)
        exact = (exact @ LUMA_709)[..., None] * colour / colour.max()
    exact = exact * gain
    if gain > 1:
        exact = np.where(exact > 0.8, 0.8 + 0.2 * (1 - np.exp(-(exact - 0.8) / 0.2)), exact)
    if edge:
        exact = exact * edge_fade((12, 14), edge)[..., None]
    wanted = 255 * from_linear(exact).astype(np.float64)
    toned = Tone(gain=gain, edge=edge, tint=tint)(figure_of_codes(codes))
    # half a step of light is 1/40 of a code, that of a figure less
    assert np.abs(toned / 257 - wanted).max() < 0.03


def test_edge_fade_reaches_full_light_inside() -> None:
    fade = edge_fade((20, 30), 4)
    assert fade[10, 15] == 1
    assert fade[0].max() < 0.1
    assert fade[:, 29].max() < 0.1
    assert np.allclose(fade, fade[::-1, ::-1])


def test_auto_gain_never_darkens_and_has_a_limit() -> None:
    assert auto_gain(1.0) == 1.0
    assert auto_gain(0.45) == pytest.approx(2.0)
    assert auto_gain(1e-4) == MAX_GAIN
    assert auto_gain(0.0) == 1.0


@pytest.mark.parametrize(
    ("settings", "message"),
    [
        ({"gain": 0.0}, r"gain is 0, it must be in 0\.05\.\.20"),
        ({"edge": -1}, "edge is -1, it must be 0 or more"),
    ],
)
def test_settings_out_of_range_are_refused(settings: dict, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        Tone(**settings)


@pytest.mark.parametrize("width", [3, 8])
def test_edge_fade_is_smoothstep_from_the_pixels_middles(width: int) -> None:
    """3 t^2 - 2 t^3, as in the OpenGL Shading Language, section 8.3; corners fade both ways."""
    fade = edge_fade((40, 60), width)
    t = np.minimum((np.arange(20) + 0.5) / width, 1)
    ramp = 3 * t**2 - 2 * t**3
    assert fade[20, :20] == pytest.approx(ramp, abs=1e-6)
    assert fade[:20, 30] == pytest.approx(ramp, abs=1e-6)
    assert fade[-1, -1] == pytest.approx(ramp[0] ** 2, abs=1e-6)
