"""The part of a loop on which settings are tried."""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from ghostprep.clip import FrameRange
from ghostprep.player.search import lively_part

RATE = Fraction(10)


def walk(steps: list[int]) -> list[np.ndarray]:
    """A lit bar that moves by so many columns from frame to frame."""
    frames, x = [], 0
    for step in steps:
        x = (x + step) % 64
        frame = np.zeros((16, 96, 3), np.uint8)
        frame[4:12, x : x + 8] = 200
        frames.append(frame)
    return frames


def test_it_is_as_lively_as_the_whole() -> None:
    # still, then lively, then as lively as the mean of both
    frames = walk([0] * 40 + [4] * 40 + [2] * 40)
    first, after = lively_part(frames, RATE) or (0, 0)
    assert after - first == 25
    assert first >= 40 - 25
    moved = [np.abs(frames[i].astype(int) - frames[i - 1]).sum() for i in range(1, len(frames))]
    assert abs(np.mean(moved[first:after]) / np.mean(moved) - 1) < 0.1


def test_a_short_loop_has_none() -> None:
    assert lively_part(walk([1] * 39), RATE) is None
    assert lively_part(walk([1] * 40), RATE) is not None


def test_a_part_is_a_window() -> None:
    frames = walk([1] * 9)
    part = FrameRange(frames, 3, 6)
    assert len(part) == 3
    assert [frame is frames[3 + i] for i, frame in enumerate(part)] == [True] * 3
    assert part[2] is frames[5]
