"""Flashes taken out."""

from __future__ import annotations

from dataclasses import dataclass

from moviepy import Clip

from ghostprep.clip import FrameStore
from ghostprep.effects.checked import CheckedEffect
from ghostprep.effects.frames import counted, frame_count, frames_of, rate_of
from ghostprep.picture.calm import calm
from ghostprep.transfer import rounded


@dataclass
class Calm(CheckedEffect):
    """Limit how fast light may change, so that the clip, played as a loop, cannot flash too often.

    The limit is that of WCAG 2.2, SC 2.3.1; see `ghostprep.picture.calm`.

    Attributes
    ----------
    red : bool
        Also take saturated reds back to where they are none.
    """

    red: bool = False

    def apply(self, clip: Clip) -> Clip:
        """Return the calmed clip; its frames lie in a temporary file as long as the clip lives."""
        store = FrameStore((int(clip.w), int(clip.h)))
        for frame in calm(lambda: frames_of(clip), rate_of(clip), red=self.red):
            store.append(rounded(frame))
        return counted(clip, frame_count(clip), store.__getitem__)
