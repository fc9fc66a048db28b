"""Light on a panel of 5, 6 and 5 bits."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ghostprep.picture.dither import dithered

STEPS = (8, 4, 8)
"""Codes from one step to the next with 5, 6 and 5 bits: 256 over 32, 64 and 32."""


def as_panel_shows(frame: np.ndarray) -> np.ndarray:
    """What a 5-6-5 panel shows: its drivers drop the low bits and repeat the high ones in their place."""
    shown = np.empty_like(frame)
    for channel, step in enumerate(STEPS):
        high = frame[..., channel] & np.uint8(256 - step)
        shown[..., channel] = high | (high >> np.uint8(5 if step == 8 else 6))
    return shown


def test_the_panel_by_brute_force() -> None:
    """5 bits: v stands for (v << 3) | (v >> 2); 6 bits: (v << 2) | (v >> 4)."""
    codes = np.arange(256, dtype=np.uint8)
    shown = as_panel_shows(np.stack([codes] * 3, axis=-1)[None])[0]
    for code in range(256):
        five, six = code >> 3, code >> 2
        assert shown[code].tolist() == [
            (five << 3) | (five >> 2),
            (six << 2) | (six >> 4),
            (five << 3) | (five >> 2),
        ]
    assert shown[255].tolist() == [255, 255, 255]


@pytest.mark.parametrize("code", range(8, 249, 7))
def test_a_flat_patch_keeps_its_mean(code: int) -> None:
    patch = np.full((32, 32, 3), code, np.uint8)
    plain = as_panel_shows(patch).mean(axis=(0, 1))
    better = as_panel_shows(dithered(patch)).mean(axis=(0, 1))
    # the panel spreads 31 (63) steps over 255, so its light for a code is not the code itself
    ideal = np.array([code * 255 / 31 / 8, code * 255 / 63 / 4, code * 255 / 31 / 8])
    assert np.abs(better - ideal).max() <= 0.7  # the panel's own rounding
    assert np.abs(better - ideal).max() <= np.abs(plain - ideal).max() + 0.7


def test_a_ramp_has_no_bands() -> None:
    ramp = np.repeat(np.linspace(40, 120, 320), 3).reshape(1, 320, 3).repeat(64, axis=0)
    frame = np.rint(ramp).astype(np.uint8)

    def unevenness(shown: np.ndarray) -> float:
        columns = shown[..., 0].astype(float).reshape(64, 20, 16).mean(axis=(0, 2))
        return float(np.abs(np.diff(columns) - np.diff(columns).mean()).max())

    assert unevenness(as_panel_shows(dithered(frame))) < 1.5 < unevenness(as_panel_shows(frame))


@settings(deadline=None, max_examples=50)
@given(seed=st.integers(0, 2**32 - 1), size=st.tuples(st.integers(1, 9), st.integers(1, 9)))
def test_black_stays_black_and_nothing_moves_by_a_step(seed: int, size: tuple[int, int]) -> None:
    rng = np.random.default_rng(seed)
    frame = rng.integers(0, 256, (*size, 3), dtype=np.uint8)
    frame[rng.random(size) < 0.5] = 0
    out = dithered(frame)
    largest = frame.max(axis=-1)
    assert not out[largest < 8].any()
    assert not out[frame == 0].any()
    moved = out.astype(int) - frame
    lit = (largest >= 8)[..., None] & (frame > 0)
    assert (moved[lit] >= 0).all()
    assert (moved < np.array(STEPS)).all()


def test_it_stands_still() -> None:
    frame = np.full((8, 12, 3), 100, np.uint8)
    np.testing.assert_array_equal(dithered(frame), dithered(frame.copy()))
    np.testing.assert_array_equal(dithered(frame)[4:], dithered(frame[4:]))
