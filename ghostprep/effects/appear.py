"""A ghost that comes out of the dark now and then."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from moviepy import Clip

from ghostprep.arrays import Frame
from ghostprep.effects.checked import CheckedEffect
from ghostprep.effects.frames import counted, frame_at, frame_count, rate_of
from ghostprep.loop import plan_appearances


@dataclass
class Appear(CheckedEffect):
    """Let a clip that is dark at both ends appear at uneven intervals, black in between.

    `SeamlessLoop` with the join "fades" makes such a clip.

    Attributes
    ----------
    every_s : tuple of float
        Shortest and longest time from one appearance to the next, beginning to beginning, seconds.
    total_s : float
        Length of the whole, seconds.
    seed : int
        Another number, another order in time.
    """

    every_s: tuple[float, float]
    total_s: float
    seed: int = 0

    def apply(self, clip: Clip) -> Clip:
        """Return the whole.

        Raises
        ------
        InputError
            The appearances do not fit the length.
        """
        schedule = plan_appearances(
            [frame_count(clip)], rate_of(clip), every_s=self.every_s, total_s=self.total_s, seed=self.seed
        )
        shown = list(schedule)
        dark = np.zeros((int(clip.h), int(clip.w), 3), np.uint8)

        def frame(number: int) -> Frame:
            what = shown[number]
            return dark if what is None else frame_at(clip, what[1])

        return counted(clip, schedule.frames, frame)
