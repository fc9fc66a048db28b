"""Frames to 4:2:0: exact codes from the standards, and black that stays black."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ghostprep.player.guard import Guard, to_planes
from ghostprep.player.profile import ColourLimits

NONE = Guard(colour_px=0)

# 75 % bars (Y, Cb, Cr), 8 bit: BT.709 row as in ITU-R BT.801 / colour-science, BT.601 row as ffmpeg's
# smpte bars; white first
BARS = {
    "bt709": [
        ((191, 191, 191), (180, 128, 128)), ((191, 191, 0), (168, 44, 136)), ((0, 191, 191), (145, 147, 44)),
        ((0, 191, 0), (133, 63, 52)), ((191, 0, 191), (63, 193, 204)), ((191, 0, 0), (51, 109, 212)),
        ((0, 0, 191), (28, 212, 120)),
    ],
    "bt601": [
        ((191, 191, 191), (180, 128, 128)), ((191, 191, 0), (162, 44, 142)), ((0, 191, 191), (131, 156, 44)),
        ((0, 191, 0), (112, 72, 58)), ((191, 0, 191), (84, 184, 198)), ((191, 0, 0), (65, 100, 212)),
        ((0, 0, 191), (35, 212, 114)),
    ],
}  # fmt: skip


@pytest.mark.parametrize("matrix", ["bt709", "bt601"])
@pytest.mark.parametrize("centred", [True, False])
def test_bars(matrix: str, centred: bool) -> None:
    for rgb, expected in BARS[matrix]:
        frame = np.full((8, 8, 3), rgb, np.uint8)
        planes = to_planes(frame, ColourLimits(matrix=matrix), NONE, centred=centred)
        luma, chroma = planes[:8], planes[8:].reshape(2, 4, 4)
        assert (luma == luma[0, 0]).all()
        found = (int(luma[0, 0]), int(chroma[0, 1, 1]), int(chroma[1, 1, 1]))
        # 191 stands for 75 % of 255, which is 191.25
        assert np.abs(np.subtract(found, expected)).max() <= 1


@pytest.mark.parametrize(("name", "black", "white"), [("limited", 16, 235), ("full", 0, 255)])
def test_range(name: str, black: int, white: int) -> None:
    frame = np.zeros((8, 8, 3), np.uint8)
    frame[:, 4:] = 255
    planes = to_planes(frame, ColourLimits(range=name), NONE, centred=False)
    assert set(planes[:8, :4].ravel()) == {black}
    assert set(planes[:8, 4:].ravel()) == {white}
    assert set(planes[8:].ravel()) == {128}


@settings(deadline=None, max_examples=60)
@given(
    seed=st.integers(0, 2**32 - 1),
    size=st.tuples(st.integers(1, 12), st.integers(1, 12)),
    floor=st.sampled_from([0, 4, 12]),
    colour_px=st.floats(0, 6),
    full=st.booleans(),
    centred=st.booleans(),
)
def test_black_is_black_whatever_is_beside_it(
    seed: int,
    size: tuple[int, int],
    floor: float,
    colour_px: float,
    full: bool,
    centred: bool,
) -> None:
    rng = np.random.default_rng(seed)
    height, width = 2 * size[0], 2 * size[1]
    frame = rng.integers(0, 256, (height, width, 3), dtype=np.uint8)
    frame[rng.random((height, width)) < 0.4] = 0
    guard = Guard(floor, colour_px)
    colour = ColourLimits(range="full" if full else "limited")
    planes = to_planes(frame, colour, guard, centred=centred)
    black = ~frame.any(axis=-1)
    assert planes.shape == (height * 3 // 2, width)
    assert (planes[:height][black] == (0 if full else 16)).all()
    chroma = planes[height:].reshape(2, height // 2, width // 2)
    touched = black.reshape(height // 2, 2, width // 2, 2).any(axis=(1, 3))
    assert (chroma[:, touched] == 128).all()


def test_only_the_figures_box_is_worked_on_and_the_rest_agrees() -> None:
    """A figure in a corner gives the same codes as the same figure alone."""
    rng = np.random.default_rng(4)
    figure = rng.integers(1, 256, (10, 12, 3), dtype=np.uint8)
    large = np.zeros((64, 96, 3), np.uint8)
    large[20:30, 40:52] = figure
    small = np.zeros((22, 24, 3), np.uint8)
    small[6:16, 6:18] = figure
    guard = Guard(0, 3)
    one = to_planes(large, ColourLimits(), guard, centred=False)
    two = to_planes(small, ColourLimits(), guard, centred=False)
    np.testing.assert_array_equal(one[14:36, 34:58], two[:22])


def test_a_figure_that_leaves_the_picture_does_not_fade_there() -> None:
    frame = np.full((16, 16, 3), 200, np.uint8)
    frame[:, :6] = 0
    frame[..., 2] = frame[..., 2] // 2
    planes = to_planes(frame, ColourLimits(), Guard(0, 3), centred=False)
    blue = planes[16:].reshape(2, 8, 8)[0].astype(int)
    assert (blue[:, -1] == blue[4, -1]).all()
    assert blue[4, 3] > blue[4, 4] > blue[4, -1]  # colour fades in from the rim, not from the picture's edge


def test_colour_is_whole_from_the_third_pixel_of_a_figure_on_unless_told_otherwise() -> None:
    """Over two pixels it fades in: a rim's chroma would be spread into the black beside it."""
    frame = np.zeros((64, 64, 3), np.uint8)
    frame[16:48, 16:48] = (200, 40, 40)
    red = to_planes(frame, ColourLimits(), Guard(), centred=True)[64:].reshape(2, 32, 32)[1].astype(int)
    row = red[16, 8:24] - 128
    # samples of columns 16 and 17, the first two, and of 18 and 19, the third and fourth, and so on
    assert 0 < row[0] < row[1] == row[8]
    assert (row == row[::-1]).all()


def test_chroma_lies_where_the_coding_puts_it() -> None:
    """A step of colour between columns 8 and 9: the left-sited sample at 8 is an even mix (H.264 E.2.1)."""
    frame = np.full((4, 16, 3), (200, 100, 100), np.uint8)
    frame[:, 8:] = (100, 100, 200)
    left = to_planes(frame, ColourLimits(), NONE, centred=False)[4:].reshape(2, 2, 8)[1, 0].astype(int)
    centre = to_planes(frame, ColourLimits(), NONE, centred=True)[4:].reshape(2, 2, 8)[1, 0].astype(int)
    assert centre[3] == left[3] == left[0]
    assert centre[4] == centre[7]
    assert left[4] == round((left[0] + 3 * left[7]) / 4)


@pytest.mark.parametrize("wrong", [{"floor": -1}, {"colour_px": -0.5}])
def test_a_guard_checks_its_settings(wrong: dict[str, float]) -> None:
    with pytest.raises(ValueError, match="must be"):
        Guard(**wrong)


def test_the_last_traces_of_noise_go() -> None:
    frame = np.zeros((16, 16, 3), np.uint8)
    frame[:, :4], frame[:, 4:8], frame[:, 8:12], frame[:, 12:] = 2, 4, 8, 60
    luma = to_planes(frame, ColourLimits(), Guard(floor=8, colour_px=0), centred=False)[8]
    assert luma[2] == 16
    assert luma[6] == 16
    assert 16 < luma[10] < 16 + 8 * 219 / 255
    assert luma[14] == round(16 + 60 * 219 / 255)
