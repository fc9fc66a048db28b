"""Where the figure's rim runs, in the encoder's blocks, stretch by stretch."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final

import cv2
import numpy as np
import numpy.typing as npt

from ghostprep.arrays import Doubles, Frame
from ghostprep.black import NEAR_PX
from ghostprep.box import Box
from ghostprep.channels import largest_channel
from ghostprep.parallel import in_order
from ghostprep.player.h264_level import in_macroblocks

_MOST_STRETCHES: Final = 48
"""An even number: stretches are joined in pairs, so that the sums take the same memory for any loop."""


class Silhouette:
    """Sums up, for every block of 16x16, how much near black it holds and how hard it is to code.

    `stretch` frames are summed together; it doubles whenever there are more than 48 stretches, so memory does
    not grow with the loop's length.
    """

    def __init__(self, raster: tuple[int, int], stretch: int) -> None:
        self._blocks = in_macroblocks(raster)
        self.stretch = max(1, stretch)
        self.frames = 0
        self._near: list[Doubles] = []
        self._effort: list[Doubles] = []
        self._last: Frame | None = None

    def add(self, frames: Iterable[Frame]) -> None:
        """Take in the next frames, uint8 (h, w, 3), 0 outside the figure; several are worked on at once."""
        for blocks, near, effort in in_order(_looked_at, self._with_last(frames)):
            if self.frames // self.stretch == len(self._near):
                if len(self._near) == _MOST_STRETCHES:
                    self._join_pairs()
                grid = (self._blocks[1], self._blocks[0])
                self._near.append(np.zeros(grid))
                self._effort.append(np.zeros(grid))
            self.frames += 1
            self._near[-1][blocks] += near
            self._effort[-1][blocks] += effort

    def _with_last(self, frames: Iterable[Frame]) -> Iterator[tuple[Frame, Frame | None]]:
        """Yield each frame's largest channel (h, w), and that of the one before."""
        for frame in frames:
            last, self._last = self._last, largest_channel(frame)
            yield self._last, last

    def offsets(self, *, rim: float, share: float, rest: float) -> list[tuple[int, int, Doubles]]:
        """Return each stretch's first frame, the one after its last, and its offsets (rows, columns).

        By these each block's quantiser is to differ from the picture's.
        Of the blocks with near black those that hold much of it for little effort come first, until
        they hold `share` (0..1) of all near black; the dearest ones get `rest`. Blocks without near black
        get `rim` too if they are black throughout the stretch, and 0 if they are the figure's.
        """
        result = []
        for number, (near, effort) in enumerate(zip(self._near, self._effort, strict=True)):
            full = (near == 0) & (effort > 0)
            first = number * self.stretch
            after = min(first + self.stretch, self.frames)
            gain = near / (effort + 200.0 * (after - first))
            order = np.argsort(-gain, axis=None)
            held = np.cumsum(near.ravel()[order]) / max(near.sum(), 1)
            offsets = np.zeros(near.size)
            offsets[order] = np.where(held <= share, rim, rest)
            # blocks of black alone cost nothing, and must be coded as finely as their neighbours' rim
            offsets[near.ravel() == 0] = rim
            offsets[full.ravel()] = 0
            result.append((first, after, offsets.reshape(near.shape)))
        return result

    def _join_pairs(self) -> None:
        for sums in (self._near, self._effort):
            sums[:] = [sum(sums[i : i + 2], np.zeros_like(sums[0])) for i in range(0, len(sums), 2)]
        self.stretch *= 2


def _looked_at(pair: tuple[Frame, Frame | None]) -> tuple[tuple[slice, slice], Doubles, Doubles]:
    """Return which blocks a frame adds to, how much near black each holds, and how hard it is to code."""
    largest, last = pair
    # black far from the figure that was black before costs no bits
    left, top, wide, high = cv2.boundingRect(largest if last is None else cv2.max(largest, last))
    if not wide:
        return np.s_[:0, :0], np.zeros((0, 0)), np.zeros((0, 0))
    box = Box(left, top, wide, high).grown(NEAR_PX).within(largest.shape[::-1])
    first, after = (box.y // 16, box.x // 16), (-(-box.bottom // 16), -(-box.right // 16))
    part = slice(first[0] * 16, after[0] * 16), slice(first[1] * 16, after[1] * 16)
    near, effort = _near_and_effort(largest[part], None if last is None else last[part])
    return np.s_[first[0] : after[0], first[1] : after[1]], _summed(near), _summed(effort)


def _near_and_effort(largest: Frame, last: Frame | None) -> tuple[Frame, npt.NDArray[np.uint16]]:
    """Return where near black is (1), and how hard each pixel is to code."""
    figure = (largest > 0).view(np.uint8)
    reach = 2 * NEAR_PX + 1
    near = cv2.subtract(cv2.dilate(figure, np.ones((reach, reach), np.uint8)), figure)
    # steps across and down, and twice those from frame to frame: what a P-frame has to code
    effort = np.zeros(largest.shape, np.uint16)
    effort[1:] += _apart(largest[1:], largest[:-1])
    effort[:, 1:] += _apart(largest[:, 1:], largest[:, :-1])
    if last is not None:
        change = _apart(largest, last)
        effort += change
        effort += change
    return np.asarray(near, np.uint8), effort


def _summed(plane: npt.NDArray[np.generic]) -> Doubles:
    """Return the sum of each block of 16x16; those at the far edges may be smaller."""
    down, across = (-(-side // 16) for side in plane.shape)
    full = np.zeros((down * 16, across * 16), np.float32)
    full[: plane.shape[0], : plane.shape[1]] = plane
    means = cv2.resize(full, (across, down), interpolation=cv2.INTER_AREA)
    return np.asarray(means * 256.0, np.float64)


def _apart(one: Frame, other: Frame) -> Frame:
    return np.asarray(cv2.absdiff(one, other), np.uint8)
