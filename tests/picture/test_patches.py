"""Patches: what no outline crosses."""

from __future__ import annotations

import numpy as np
import pytest

from ghostprep.picture.key.curve import Curve
from ghostprep.picture.learn.patches import Patches

SIZE = (80, 120)
CODES = Curve("codes")


def steps_of(height: float, width: int) -> np.ndarray:
    """A picture that climbs by a height within a width, pixels, in its middle."""
    ramp = 100 + height * np.clip((np.arange(SIZE[1]) - 60) / width, 0, 1)
    return np.tile(ramp[None, :, None], (SIZE[0], 1, 3)).astype(np.float32)


@pytest.mark.parametrize(("height", "width", "count"), [(30, 1, 2), (4.0, 1, 1), (30, 20, 1), (60, 20, 2)])
def test_an_outline_climbs_five_codes_within_two_pixels(height: float, width: int, count: int) -> None:
    there = np.ones(SIZE, bool)
    assert len(Patches.of(steps_of(height, width), there, CODES).boxes) == count


def test_a_code_of_light_is_as_in_the_picture() -> None:
    """In light, six codes at 100 are some four amounts."""
    codes = np.full((*SIZE, 3), 100, np.uint8)
    codes[:, 60:] = 107
    light = Curve("light").amounts(codes)
    assert np.ptp(light) < 5
    assert len(Patches.of(light, np.ones(SIZE, bool), Curve("light")).boxes) == 2
    assert len(Patches.of(light, np.ones(SIZE, bool), CODES).boxes) == 1


@pytest.mark.parametrize(("side", "kept"), [(9, False), (10, True)])
def test_what_is_small_is_none(side: int, kept: bool) -> None:
    there = np.zeros(SIZE, bool)
    there[20 : 20 + side, 30 : 30 + side] = True
    found = Patches.of(np.full((*SIZE, 3), 90, np.float32), there, CODES)
    assert len(found.boxes) == kept
    assert (found.numbers > 0).sum() == kept * side * side


def test_each_has_its_place_and_its_light() -> None:
    light = np.full((*SIZE, 3), 20, np.float32)
    there = np.zeros(SIZE, bool)
    there[10:30, 10:30] = there[40:70, 60:100] = True
    light[40:70, 60:100] = (90, 40, 10)
    light[10:30, 10:30, 0] += np.linspace(-2, 2, 20)
    found = Patches.of(light, there, CODES)
    assert found.light == pytest.approx(np.float32([[20, 20, 20], [90, 40, 10]]), abs=0.3)
    (first, where), (second, _) = found
    assert (first, second) == (np.s_[10:30, 10:30], np.s_[41:69, 61:99]) or second == np.s_[40:70, 60:100]
    assert where.all()
    flat = found.spread(found.light, light)
    assert flat[found.numbers == 1].std() == pytest.approx(0, abs=1e-4)
    assert (flat[found.numbers == 0] == light[found.numbers == 0]).all()


def test_nothing_has_no_patches() -> None:
    found = Patches.of(np.zeros((*SIZE, 3), np.float32), np.zeros(SIZE, bool), CODES)
    assert list(found) == []
    assert found.light.shape == (0, 3)
