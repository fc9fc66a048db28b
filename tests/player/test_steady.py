"""Noise is evened out, motion and black are left alone."""

from __future__ import annotations

import numpy as np
import pytest

from ghostprep.player.steady import MEMORY, Steady, steadied


def patch(rng: np.random.Generator, level: float, sigma: float) -> np.ndarray:
    frame = np.zeros((48, 64, 3), np.uint8)
    frame[8:40, 10:50] = np.clip(rng.normal(level, sigma, (32, 40, 3)), 1, 255)
    return frame


def test_noise_falls_as_theory_says_for_a_mean_with_memory() -> None:
    """y += k (x - y) leaves k / (2 - k) of the variance; here k is a quarter for small differences."""
    rng = np.random.default_rng(3)
    steady = Steady(40)
    outs = [steady(patch(rng, 120, 2))[10:38, 12:48].astype(float) for _ in range(40)]
    left = np.var(np.stack(outs[20:]), axis=0).mean()
    # rounding to whole codes twice adds a twelfth each
    assert left == pytest.approx(4 * 0.25 / 1.75, abs=0.3)


def test_a_step_is_shown_at_once() -> None:
    rng = np.random.default_rng(3)
    steady = Steady(8)
    for _ in range(5):
        steady(patch(rng, 60, 1))
    new = patch(rng, 160, 1)
    np.testing.assert_array_equal(steady(new)[12:36, 14:46], new[12:36, 14:46])


def test_black_is_black_where_the_figure_has_been() -> None:
    rng = np.random.default_rng(3)
    steady = Steady(20)
    steady(patch(rng, 8, 1))
    frame = np.roll(patch(rng, 8, 1), 6, axis=1)
    out = steady(frame)
    assert not out[~frame.any(axis=-1)].any()


def test_the_first_frame_is_itself_and_nothing_is_changed_in_place() -> None:
    rng = np.random.default_rng(3)
    frames = [patch(rng, 90, 3) for _ in range(3)]
    copies = [frame.copy() for frame in frames]
    steady = Steady(8)
    outs = [steady(frame) for frame in frames]
    np.testing.assert_array_equal(outs[0], copies[0])
    for frame, copy in zip(frames, copies, strict=True):
        np.testing.assert_array_equal(frame, copy)


def test_a_still_picture_stays() -> None:
    steady = Steady(8)
    frame = patch(np.random.default_rng(1), 90, 20)
    for _ in range(4):
        np.testing.assert_array_equal(steady(frame), frame)


def test_settings_are_checked() -> None:
    with pytest.raises(ValueError, match="codes is 0, it must be above 0"):
        Steady(0)


def test_a_loop_is_steadied_as_if_it_had_always_played() -> None:
    """The second lap of a loop, played on, is what comes out of the first one."""
    rng = np.random.default_rng(9)
    frames = [patch(rng, 120 + i % 3, 2) for i in range(20)]
    once = list(steadied(frames, 40, before=frames[-MEMORY:]))
    twice = list(steadied(frames * 2, 40))[20:]
    assert len(once) == 20
    apart = np.abs(np.stack(once).astype(int) - np.stack(twice))
    assert apart.max() <= 2
    assert apart.mean() < 0.1


@pytest.mark.parametrize("count", [0, 1, 2, 20])
def test_as_many_frames_come_out(count: int) -> None:
    rng = np.random.default_rng(9)
    frames = [patch(rng, 30 + 9 * i, 1) for i in range(count)]
    outs = list(steadied(frames, 4))
    assert len(outs) == count
    for frame, out in zip(frames, outs, strict=True):  # steps of 9 codes: nothing may lag
        assert np.abs(out[14:34, 16:44].astype(int) - frame[14:34, 16:44]).mean() < 1.5
