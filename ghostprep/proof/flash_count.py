"""Counts each spot's transitions second by second, as the frames of a looping file come in."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, Protocol, Self

import numpy as np
import numpy.typing as npt

from ghostprep.arrays import Light
from ghostprep.proof.flash_area import Field
from ghostprep.proof.flash_states import Flags

MOST_TRANSITIONS: Final = 6
"""Three flashes are six transitions; the seventh makes three and a half (W3C technique G19)."""


class Changes(Protocol):
    """Finds the moments at which spots complete a transition."""

    def step(self, light: Light) -> Flags:
        """Take in the next frame's spots (spots, 3); return which completed a transition in it."""

    def extend(self, others: Self) -> None:
        """Take in the spots of another one of its kind behind one's own."""


@dataclass(frozen=True, slots=True)
class FlashCount:
    """The worst second of a loop."""

    transitions: int  # most transitions of one spot within one second
    frame: int  # first frame of the worst second
    # largest area in any 10 degrees of field whose spots make more than six transitions in one second; in
    # shares of the raster where no screen size is known
    area_sr: float
    limit: float  # what `area_sr` must not exceed

    @property
    def passed(self) -> bool:
        """Whether either rule holds."""
        return self.transitions <= MOST_TRANSITIONS or self.area_sr <= self.limit

    @property
    def flashes(self) -> float:
        """Flashes a second: pairs of transitions."""
        return self.transitions / 2


class Counter:
    """Counts one kind of transitions in the second that ends with each frame.

    Parameters
    ----------
    start : callable
        From some spots in the first frame (spots, 3) to what finds their changes.
    window : int
        Frames of one second.
    """

    def __init__(self, start: Callable[[Light], Changes], window: int, field: Field) -> None:
        self._start = start
        self._window = window
        self._field = field
        self._changes = start(np.zeros((0, 3), np.float32))
        self._made: deque[Flags] = deque()
        self._running = np.zeros(0, np.int16)
        self.worst = FlashCount(0, 0, 0.0, field.limit)

    def extend(self, first: Light) -> None:
        """Follow more spots, which have been as in the first frame up to now."""
        self._changes.extend(self._start(first))
        self._running = np.concatenate([self._running, np.zeros(len(first), np.int16)])

    def take(self, light: Light, spots: npt.NDArray[np.intp], first: int | None) -> None:
        """Take in the next frame.

        Parameters
        ----------
        light : ndarray of float32 (followed, 3)
            The spots that are followed, in linear RGB.
        spots : ndarray of int (followed,)
            Which those are.
        first : int or None
            First frame of the second that this one ends; None: it is not judged.
        """
        made = self._changes.step(light)
        self._running += made
        self._made.append(made)
        if len(self._made) > self._window:
            old = self._made.popleft()  # fewer spots may have been followed then
            self._running[: len(old)] -= old
        peak = int(self._running.max(initial=0))
        if first is None or peak == 0:
            return
        worst, area = self.worst, 0.0
        if peak > MOST_TRANSITIONS:
            area = self._field.largest(spots[self._running > MOST_TRANSITIONS], above=worst.area_sr)
        frame = first if (area, peak) > (worst.area_sr, worst.transitions) else worst.frame
        self.worst = FlashCount(
            max(peak, worst.transitions), frame, max(area, worst.area_sr), self._field.limit
        )
