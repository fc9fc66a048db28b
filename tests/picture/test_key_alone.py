"""Keys in their smallest setting, one keyer and one frame: what adds up, what lies beside, how bright."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ghostprep.picture.key.black import BlackKeyer
from ghostprep.picture.key.keyed import Keyed
from ghostprep.picture.key.marks import Gauge
from ghostprep.picture.key.rough import RoughPlateKeyer


def light_of(code: float) -> float:
    """IEC 61966-2-1, above its toe."""
    return float(((code / 255 + 0.055) / 1.055) ** 2.4)


def code_of(light: float) -> float:
    return float(255 * (1.055 * light ** (1 / 2.4) - 0.055))


@pytest.mark.parametrize("black", [20, 40, 70])
@pytest.mark.parametrize("lamp", [60, 120, 200])
def test_light_that_was_added_in_light_comes_out_as_bright_as_alone(black: int, lamp: int) -> None:
    """A lens adds light: codes of both together are those of the sum of their light."""
    both = code_of(light_of(black) + light_of(lamp))
    frame = np.full((48, 64, 3), black, np.uint8)
    frame[:, 32:] = round(both)
    plate = np.full((48, 64, 3), black, np.float32)
    keyed = {
        linear: BlackKeyer(plate, 0.5, body=False, linear=linear, shape=False)(frame).codes[24, 48, 0]
        for linear in (True, False)
    }
    # half a code of the frame's rounding is more of the lamp's the darker it is
    assert keyed[True] == pytest.approx(lamp, abs=1.0 + 0.5 * both / lamp)
    assert keyed[False] == round(both) - black


def test_coverage_is_told_by_the_figure_within_two_pixels() -> None:
    """A dark sleeve 3 px beside a bright lantern is as whole as one alone."""
    plate = np.full((32, 48, 3), 100, np.float32)
    frame = np.full((32, 48, 3), 100, np.uint8)
    frame[8:24, 4:16] = 240
    frame[8:24, 19:36] = 60
    keyed = RoughPlateKeyer.of(plate, np.full((32, 48), 1.0, np.float32))(frame)
    assert (keyed.matte[10:22, 19:36] == 255).all()
    assert (keyed.matte[10:22, 4:16] == 255).all()
    assert not keyed.matte[:, 16:19].any()
    # at an edge, coverage falls from that of the figure beside it to none
    frame[8:24, 16] = 170
    edge = RoughPlateKeyer.of(plate, np.full((32, 48), 1.0, np.float32))(frame).matte[10:22, 16]
    assert edge == pytest.approx(255 * (70 - 3) / (140 - 3), abs=1.5)


@settings(deadline=None, max_examples=40)
@given(code=st.integers(1, 255), matte=st.integers(12, 255), wide=st.integers(1, 6), gap=st.integers(6, 12))
def test_a_things_colour_is_a_colour_however_thin_it_is(code: int, matte: int, wide: int, gap: int) -> None:
    """Its light over its coverage; where that says more than white, it is white."""
    figure, cover = np.zeros((60, 80, 3), np.uint16), np.zeros((60, 80), np.uint8)
    for left in (20, 20 + wide + gap):
        figure[10:40, left : left + wide] = code * 257
        cover[10:40, left : left + wide] = matte
    islands = Gauge.of(None, (80, 60), (80, 60)).islands(Keyed(figure, cover))
    things = np.flatnonzero(islands.mass)
    assert islands.colours[things] == pytest.approx(min(code * 255 / matte, 255), rel=1e-4)
    assert islands.mass[things].sum() == pytest.approx(2 * 30 * wide * matte / 255 / (60 * 80), rel=1e-4)
    assert len(things) == 2
