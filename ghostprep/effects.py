"""Our steps as moviepy effects, for people who script their clips.

Examples
--------
::

    from moviepy import VideoFileClip
    from ghostprep.effects import ForPane, KeyToBlack, SeamlessLoop

    clip = VideoFileClip("purser_green.mp4").with_effects([KeyToBlack(), SeamlessLoop(), ForPane()])
"""

from __future__ import annotations

import functools
from dataclasses import dataclass
from fractions import Fraction
from typing import Any, TypeAlias

import numpy as np
import numpy.typing as npt
from moviepy import Clip, Effect

from ghostprep.errors import InputError
from ghostprep.loop import Strip, make_frame, plan_loop, search
from ghostprep.picture import learn_key
from ghostprep.picture.place import Orientation

Frame: TypeAlias = npt.NDArray[np.uint8]

_GLIMPSES = 24


@dataclass
class KeyToBlack(Effect):  # type: ignore[misc]  # moviepy has no types
    """Take the backing to exact black, the figure premultiplied.

    Attributes
    ----------
    kind : str
        What is behind the figure, as for ``make --backing``.
    plate : ndarray of uint8 (h, w, 3), optional
        A picture of the backing alone.
    """

    kind: str = "auto"
    plate: Frame | None = None

    def apply(self, clip: Clip) -> Clip:
        """Return the keyed clip."""
        count = frame_count(clip)
        places = sorted({n * count // _GLIMPSES for n in range(_GLIMPSES)})
        glimpses = [frame_at(clip, n) for n in places]
        size = (int(clip.w), int(clip.h))
        keyer = learn_key(glimpses, kind=self.kind, plate=self.plate).at(None, size, size)
        return clip.image_transform(lambda frame: keyer(np.asarray(frame, np.uint8)).figure)


@dataclass
class ForPane(Effect):  # type: ignore[misc]
    """Turn the picture so that it looks right once reflected.

    Attributes
    ----------
    reflections : int
        Mirrors and panes between screen and eye.
    turn : {0, 90, 180, 270}
        How far the player is turned clockwise in its holder, degrees.
    """

    reflections: int = 1
    turn: int = 0

    def apply(self, clip: Clip) -> Clip:
        """Return the clip as the raster shows it."""
        orientation = Orientation.of(self.reflections, self.turn)
        return clip.image_transform(lambda frame: orientation.apply(np.asarray(frame, np.uint8)))


@dataclass
class SeamlessLoop(Effect):  # type: ignore[misc]
    """Cut the stretch that loops best and blend its end into its start.

    Frames are counted as integers, so no frame is lost to rounded times.

    Attributes
    ----------
    length_s : tuple of float, optional
        Shortest and longest loop wanted, seconds.
    """

    length_s: tuple[float, float] | None = None

    def apply(self, clip: Clip) -> Clip:
        """Return the loop; its duration is a whole number of frames.

        Raises
        ------
        InputError
            No two moments of the clip are alike enough.
        """
        rate = Fraction(clip.fps).limit_denominator(1001)
        strip = Strip()
        count = frame_count(clip)
        for n in range(count):
            strip.add(frame_at(clip, n))
        found = search(strip, rate, length_s=self.length_s, fetch=None)
        if not found:
            raise InputError("no two moments of the clip are alike enough to join", where="SeamlessLoop")
        plan = plan_loop("search", count, rate, candidate=found[0])

        @functools.lru_cache(maxsize=4)
        def shown(number: int) -> Frame:
            return make_frame(plan, plan.steps[number], lambda n: frame_at(clip, n))

        def at(time: float) -> Frame:
            return shown(min(int(time * float(rate) + 1e-6), len(plan) - 1))

        looped = clip.with_updated_frame_function(at).without_audio()
        return looped.with_duration(float(len(plan) / rate))


def frame_count(clip: Any) -> int:
    """Return how many frames a moviepy clip has."""
    return max(round(float(clip.duration) * float(clip.fps)), 1)


def frame_at(clip: Any, number: int) -> Frame:
    """Return frame `number` (h, w, 3), asked for in its middle so that no rounding reaches a neighbour."""
    return np.asarray(clip.get_frame((number + 0.5) / clip.fps), np.uint8)
