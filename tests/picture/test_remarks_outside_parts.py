"""What lies beside a figure, drawn by hand: marks apart from it, the backing's end, a weak texture."""

from __future__ import annotations

import numpy as np
import pytest

from ghostprep.picture.learn.camera import find_shake
from ghostprep.picture.learn.remarks_outside import _End, _marks_in


@pytest.mark.parametrize(("gap", "marks"), [(1, 0), (3, 0), (5, 1), (10, 1), (30, 1)])
def test_what_lies_within_four_pixels_of_the_figure_belongs_to_it(gap: int, marks: int) -> None:
    matte = np.zeros((120, 160), np.uint8)
    matte[20:100, 20:60] = 255
    matte[50:54, 60 + gap : 64 + gap] = 255
    assert _marks_in(matte) == marks


def test_the_backings_end_is_its_outermost_pixel_on_each_side() -> None:
    beyond = np.ones((90, 120), np.uint8)
    beyond[10:70, 30:100] = 0
    end = _End.of(beyond)
    assert end.sides == {"left": 30, "right": 99, "upper": 10, "lower": 69}
    wanted = np.zeros_like(beyond)
    wanted[10:70, 30:100] = 1
    wanted[11:69, 31:99] = 0
    assert (end.rim == wanted).all()
    # seven to twelve pixels past it, straight out
    assert np.flatnonzero(end.past[40, 100:]).tolist() == list(range(6, 12))
    assert np.flatnonzero(end.past[70:, 60]).tolist() == list(range(6, 12))


@pytest.mark.parametrize(("contrast", "seen"), [(3, False), (10, True), (60, True)])
def test_a_texture_of_ten_codes_shows_how_the_camera_moved(contrast: int, seen: bool) -> None:
    """A step of ten codes has a gradient of forty by Sobel's weights, 1 2 1; a few squares on a wall."""
    rng = np.random.default_rng(5)
    wall = np.full((200, 320, 3), 110, np.uint8)
    for x, y in rng.integers((20, 20), (280, 160), (14, 2)):
        wall[y : y + 14, x : x + 14] += np.uint8(contrast)
    frames = np.stack([np.roll(wall, (0, 3 * (k % 3 - 1)), axis=(0, 1)) for k in range(9)])
    shake = find_shake(frames)
    assert (shake.share > 0) is seen
    if seen:
        assert shake.moves[:, 0] == pytest.approx([3.0 * (k % 3 - 1) for k in range(9)], abs=0.6)
        assert np.abs(shake.moves[:, 1]).max() < 0.5
