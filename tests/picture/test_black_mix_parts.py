"""Whether light was added to a black in light or in codes: exact ramps, and how many of them it takes."""

from __future__ import annotations

import numpy as np
import pytest

from ghostprep.picture.learn.black_mix import _MIXES, _misfit, added_in_light
from ghostprep.transfer import from_linear, to_linear

COLOUR = np.array([0.9, 0.5, 0.2])
BLACK = np.array([20.0, 20, 20])


def test_each_way_of_adding_is_undone_by_its_own_way_back() -> None:
    rng = np.random.default_rng(1)
    amount, black = rng.uniform(0.001, 0.6, (50, 3)), rng.uniform(0, 30, (50, 3))
    for mix in _MIXES:
        assert mix.amount(mix.shown(amount, black), black) == pytest.approx(amount, rel=1e-3)
    painted, in_codes, in_light = (mix.shown(amount, black) for mix in _MIXES)
    codes = 255 * from_linear(amount.astype(np.float32))  # IEC 61966-2-1
    assert painted == pytest.approx(255 * amount + black)
    assert in_codes == pytest.approx(codes + black, abs=1e-2)
    both = amount + to_linear(np.float32(black / 255))
    assert in_light == pytest.approx(255 * from_linear(both.astype(np.float32)), abs=1e-2)


def ramp(kind: int, count: int = 12, colour: np.ndarray = COLOUR) -> np.ndarray:
    """Colours (n, 3) of one light from faint to bright over the black."""
    strength = np.geomspace(0.004, 0.9, count)[:, None]
    black = np.broadcast_to(BLACK, (count, 3))
    return np.asarray(_MIXES[kind].shown(strength * colour, black))


@pytest.mark.parametrize("kind", [0, 1, 2])
def test_one_colour_of_light_fits_the_way_in_which_it_was_added(kind: int) -> None:
    seen = ramp(kind)
    black = np.broadcast_to(BLACK, seen.shape)
    misfits = [_misfit(seen, black, mix) for mix in _MIXES]
    assert misfits[kind] < 0.02
    assert min(m for k, m in enumerate(misfits) if k != kind) > 20 * max(misfits[kind], 1e-3)


@pytest.mark.parametrize("off", [1.0, -1.0])
def test_a_level_that_is_a_code_off_spoils_nothing(off: float) -> None:
    """It is fitted with the light."""
    seen = ramp(2)
    black = np.broadcast_to(BLACK, seen.shape)
    assert _misfit(seen + off, black, _MIXES[2]) < 0.3
    assert _misfit(seen + off, black, _MIXES[2]) < 0.2 * _misfit(seen + off, black, _MIXES[1])


def test_the_misfit_is_the_mean_square_of_codes() -> None:
    """A second colour of light, by turns: half of their difference is left, each way."""
    seen = ramp(1, 40)
    there = np.arange(40) % 2 == 0
    seen[there, 2] += 4
    black = np.broadcast_to(BLACK, seen.shape)
    left = _misfit(seen, black, _MIXES[1])
    assert 1.0 < left < 2 * 2**2


def picture(linear: bool, colour: np.ndarray = COLOUR, rows: int = 80) -> np.ndarray:
    """A ramp of light over so many rows of a black (4, 120, 160, 3)."""
    light = np.linspace(0, 0.9, 160)[:, None] ** 2 * colour
    black = to_linear(np.float32(BLACK / 255))
    codes = (
        255 * from_linear(np.float32(light + black))
        if linear
        else 255 * from_linear(np.float32(light)) + BLACK
    )
    frames = np.broadcast_to(BLACK, (4, 120, 160, 3)).copy()
    frames[:, :rows] = codes
    noise = np.random.default_rng(2).normal(0, 0.5, frames.shape)
    return np.clip(np.rint(frames + noise), 0, 255).astype(np.uint8)


def told(frames: np.ndarray) -> bool:
    return added_in_light(frames, np.broadcast_to(BLACK, frames.shape[1:]).astype(np.float32))


@pytest.mark.parametrize("linear", [True, False])
def test_a_ramp_of_one_colour_tells_its_mix(linear: bool) -> None:
    assert told(picture(linear)) is linear
    # grey has no line to bend
    assert not told(picture(linear, np.array([0.7, 0.7, 0.7])))


@pytest.mark.parametrize(("rows", "enough"), [(4, False), (80, True)])
def test_fifty_cells_of_a_step_tell(rows: int, enough: bool) -> None:
    """Of 4 x 4 pixels, over all pictures: four rows have some ten of each."""
    assert told(picture(True, rows=rows)) is enough


def test_without_a_lifted_black_there_is_nothing_to_tell() -> None:
    frames = picture(True)
    assert not added_in_light(frames, np.zeros(frames.shape[1:], np.float32))
